/* What the generated C wants of Android's log, on a plain machine. */
#pragma once
#include <stdio.h>
#include <stdlib.h>
enum { ANDROID_LOG_INFO, ANDROID_LOG_FATAL };
#define __android_log_print(level, tag, ...) fprintf(stderr, __VA_ARGS__)
