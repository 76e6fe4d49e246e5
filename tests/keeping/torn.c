// SPDX-License-Identifier: MIT
// A file system that fails or tears the n-th write: loaded ahead of the C library, armed by a test.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <sys/types.h>
#include <unistd.h>

static long left = -1;  // writes until it happens; below 0: never
static int how;         // 0: this write and all later ones fail; 1: half of it is written, then death
static long seen;

void arm(long after, int mode) { left = after; how = mode; seen = 0; }
long writes(void) { return seen; }

ssize_t pwrite64(int file, const void *data, size_t size, off64_t at) {
    static ssize_t (*real)(int, const void *, size_t, off64_t);
    if (!real) real = (ssize_t (*)(int, const void *, size_t, off64_t))dlsym(RTLD_NEXT, "pwrite64");
    seen++;
    if (left == 0) {
        if (how == 1) { real(file, data, size / 2, at); _exit(9); }
        errno = ENOSPC;
        return -1;
    }
    if (left > 0) left--;
    return real(file, data, size, at);
}
