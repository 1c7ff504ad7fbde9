/* A disk that fails at the n-th call which changes it, loaded before the C library (LD_PRELOAD).

   Counted are calls on files below one folder: writing, syncing, cutting, renaming, linking, removing. At the n-th the
   process is killed (1), or the disk is full from then on (2), or that one call fails (3). Off until it is armed. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static char folder[PATH_MAX];
static long nth, seen;
static int how;

void failing_disk_arm(const char *below, long at, int what) {
    snprintf(folder, sizeof folder, "%s/", below);
    nth = at;
    seen = 0;
    how = what;
}

long failing_disk_seen(void) { return seen; }

static int is_below(const char *path) { return strncmp(path, folder, strlen(folder)) == 0; }

static int fails(const char *path, int fills) {
    if (!how || !is_below(path)) return 0;
    seen++;
    if (how == 1 && seen == nth) kill(getpid(), SIGKILL);
    if (how == 2 && seen >= nth && fills) { errno = ENOSPC; return 1; }
    if (how == 3 && seen == nth) { errno = EIO; return 1; }
    return 0;
}

static int fails_at(int file, int fills) {
    char link[64], path[PATH_MAX];
    if (!how) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return fails(path, fills);
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int f, const void *b, size_t n) { return fails_at(f, 1) ? -1 : REAL(write)(f, b, n); }
ssize_t pwrite(int f, const void *b, size_t n, off_t o) { return fails_at(f, 1) ? -1 : REAL(pwrite)(f, b, n, o); }
ssize_t pwrite64(int f, const void *b, size_t n, off64_t o) { return fails_at(f, 1) ? -1 : REAL(pwrite64)(f, b, n, o); }
ssize_t sendfile(int t, int f, off_t *o, size_t n);
ssize_t sendfile(int t, int f, off_t *o, size_t n) { return fails_at(t, 1) ? -1 : REAL(sendfile)(t, f, o, n); }
ssize_t sendfile64(int t, int f, off64_t *o, size_t n);
ssize_t sendfile64(int t, int f, off64_t *o, size_t n) { return fails_at(t, 1) ? -1 : REAL(sendfile64)(t, f, o, n); }
int fsync(int f) { return fails_at(f, 0) ? -1 : REAL(fsync)(f); }
int fdatasync(int f) { return fails_at(f, 0) ? -1 : REAL(fdatasync)(f); }
int ftruncate(int f, off_t n) { return fails_at(f, 0) ? -1 : REAL(ftruncate)(f, n); }
int ftruncate64(int f, off64_t n) { return fails_at(f, 0) ? -1 : REAL(ftruncate64)(f, n); }
int rename(const char *a, const char *b) { return fails(b, 0) ? -1 : REAL(rename)(a, b); }
int link(const char *a, const char *b) { return fails(b, 0) ? -1 : REAL(link)(a, b); }
int unlink(const char *a) { return fails(a, 0) ? -1 : REAL(unlink)(a); }
