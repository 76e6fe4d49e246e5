// SPDX-License-Identifier: MIT
// A file system that fails or tears the n-th write: loaded ahead of the C library, armed by a test.
// The machine itself stays on, so what is written needn't reach the disk: nobody waits for that.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <sys/types.h>
#include <unistd.h>

static long left = -1;  // writes until it happens; below 0: never
// 0: this write and all later ones fail; 1 to 8: so many eighths of it are written, then death;
// 9: this write alone fails
static int how;
static long seen;

void arm(long after, int mode) { left = after; how = mode; seen = 0; }
long writes(void) { return seen; }

ssize_t pwrite64(int file, const void *data, size_t size, off64_t at) {
    static ssize_t (*real)(int, const void *, size_t, off64_t);
    if (!real) real = (ssize_t (*)(int, const void *, size_t, off64_t))dlsym(RTLD_NEXT, "pwrite64");
    seen++;
    if (left == 0) {
        if (how >= 1 && how <= 8) { real(file, data, size * how / 8, at); _exit(9); }
        if (how == 9) left = -1;
        errno = how == 9 ? EIO : ENOSPC;
        return -1;
    }
    if (left > 0) left--;
    return real(file, data, size, at);
}

int fsync(int file) { (void)file; return 0; }
int fdatasync(int file) { (void)file; return 0; }
