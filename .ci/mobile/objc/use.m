// What an app does with the generated class; compiled against its header, never run.
#import "Mobile.objc.h"

NSData *ask(MobileEngine *engine, NSData *question, NSError **error) {
	NSString *revisions __attribute__((unused)) = [MobileEngineRevision() stringByAppendingString:MobileDataRevision()];
	return [engine ask:@"POST" path:@"/v1/diagnosis?units=si" question:question error:error];
}

MobileEngine *make(void) { return [[MobileEngine alloc] init]; }
