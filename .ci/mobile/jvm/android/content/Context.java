package android.content;

/** What the generated Java wants of Android, on a plain machine. */
public class Context {
    public Context getApplicationContext() {
        return this;
    }
}
