/*
 * A disk that fails when it is told to, for the tests of salvage.
 *
 * Preloaded into a process, it stands between the program and libc: whatever SQLite or Python does
 * with files below one folder is counted, may be refused, or is written down. Everything else goes
 * through untouched. See disk.py, which builds and steers it.
 *
 *   disk_arm     from now on count, and refuse what the mode says
 *   disk_record  from now on write down every change with its data, for power cuts
 *   disk_mark    write a note between the changes: this was acknowledged
 *   disk_rest    let everything through again
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

enum { REST = 0, COUNT = 1, ONCE = 2, FOREVER = 3, FULL = 4, BUDGET = 5, RECORD = 6 };
enum { READ = 1, CHANGE = 2 };
enum { MOST_FILES = 4096, LONGEST = 4096, BLOCK = 4096 };

static int mode, kinds, log_fd = -1;
static long nth, counted, changed, grown, refused;
static long long left, taken, used; /* bytes: still free, now taken, most ever taken */
static char root[LONGEST], hit[LONGEST + 64];
static size_t root_length;
static unsigned char ours[MOST_FILES]; /* descriptors of files below the folder */
static pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER;

#define REAL(name) \
    static __typeof__(name) *real; \
    if (!real) real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)

/* ---- which files ---- */

static int below(int folder, const char *path, char *whole) {
    if (!mode || !path) return 0;
    if (path[0] == '/') {
        snprintf(whole, LONGEST, "%s", path);
    } else {
        char at[LONGEST / 2], link[64];
        ssize_t size;
        if (folder == AT_FDCWD) snprintf(link, sizeof link, "/proc/self/cwd");
        else snprintf(link, sizeof link, "/proc/self/fd/%d", folder);
        size = readlink(link, at, sizeof at - 1);
        if (size < 0) return 0;
        at[size] = 0;
        snprintf(whole, LONGEST, "%s/%s", at, path);
    }
    return !strncmp(whole, root, root_length) && (whole[root_length] == '/' || !whole[root_length]);
}

static int is_ours(int fd) { return mode && fd >= 0 && fd < MOST_FILES && ours[fd]; }

static long long blocks(long long size) { return (size + BLOCK - 1) / BLOCK * BLOCK; }

static long long size_of(int fd) {
    struct stat found;
    return fstat(fd, &found) ? 0 : (long long)found.st_size;
}

/* The file of a descriptor, for the report. */
static const char *name_of(int fd) {
    static __thread char found[LONGEST];
    char link[64];
    ssize_t size;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    size = readlink(link, found, sizeof found - 1);
    found[size < 0 ? 0 : size] = 0;
    return found;
}

/* What is given back when a name goes. */
static long long freed_by(const char *path) {
    struct stat found;
    if (lstat(path, &found) || !S_ISREG(found.st_mode) || found.st_nlink != 1) return 0;
    return blocks(found.st_size);
}

/* ---- whether to refuse ---- */

static int strike(const char *what, const char *path, int error) {
    if (!refused++) snprintf(hit, sizeof hit, "%s %s", what, path);
    errno = error;
    return 1;
}

/*
 * Whether an operation is refused; errno is set then. Bytes that it would add are in growth: below
 * nought where it gives some back, and one where it needs room that is not counted in bytes.
 */
static int refuse(int kind, const char *what, const char *path, long long growth) {
    int no = 0;
    if (mode == REST || mode == RECORD) return 0;
    pthread_mutex_lock(&gate);
    if (kind & CHANGE) changed++;
    if (kind & kinds) {
        counted++;
        if ((mode == ONCE && counted == nth) || (mode == FOREVER && counted >= nth))
            no = strike(what, path, EIO);
    }
    if (growth > 0) {
        grown++;
        if (mode == FULL && grown >= nth) no = strike(what, path, ENOSPC);
        if (mode == BUDGET && growth >= BLOCK && growth > left) no = strike(what, path, ENOSPC);
    }
    if (!no && growth != 1) {
        left -= growth, taken += growth;
        if (taken > used) used = taken;
    }
    pthread_mutex_unlock(&gate);
    return no;
}

/* ---- writing down ---- */

struct entry {
    char what;
    char made;
    uint16_t first, second;
    int32_t fd;
    int64_t at;
    uint64_t size;
} __attribute__((packed));

static void put(const void *bytes, size_t size) {
    static ssize_t (*real)(int, const void *, size_t);
    if (!real) real = dlsym(RTLD_NEXT, "write");
    while (size) {
        ssize_t done = real(log_fd, bytes, size);
        if (done <= 0) _exit(99); /* a log with a hole would prove nothing */
        bytes = (const char *)bytes + done;
        size -= (size_t)done;
    }
}

static void note(char what, char made, int fd, long long at, const char *first, const char *second,
                 const void *data, size_t size) {
    struct entry entry = {what, made, 0, 0, fd, at, size};
    if (mode != RECORD) return;
    entry.first = (uint16_t)strlen(first);
    entry.second = (uint16_t)strlen(second);
    pthread_mutex_lock(&gate);
    put(&entry, sizeof entry);
    put(first, entry.first);
    put(second, entry.second);
    put(data, size);
    pthread_mutex_unlock(&gate);
}

/* ---- what the tests call ---- */

void disk_rest(void) { mode = REST; }

void disk_arm(const char *folder, int how, int which, long number, long long bytes) {
    snprintf(root, sizeof root, "%s", folder);
    root_length = strlen(root);
    memset(ours, 0, sizeof ours);
    counted = changed = grown = refused = 0;
    taken = used = 0;
    hit[0] = 0;
    kinds = which, nth = number, left = bytes;
    mode = how;
}

int disk_record(const char *folder, const char *log) {
    int fd = open(log, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if (fd < 0) return -1;
    log_fd = fcntl(fd, F_DUPFD_CLOEXEC, 1000);
    close(fd);
    disk_arm(folder, RECORD, 0, 0, 0);
    return log_fd < 0 ? -1 : 0;
}

void disk_mark(const char *words) { note('A', 0, -1, 0, "", "", words, strlen(words)); }
long disk_counted(void) { return counted; }
long disk_changed(void) { return changed; }
long disk_grown(void) { return grown; }
long disk_refused(void) { return refused; }
long long disk_used(void) { return used; }
const char *disk_hit(void) { return hit; }

/* ---- opening and closing ---- */

static int open_any(int folder, const char *path, int flags, mode_t rights) {
    char whole[LONGEST];
    int fd, fresh = 0, inside = below(folder, path, whole);
    REAL(openat);
    if (inside) {
        struct stat found;
        int there = !lstat(whole, &found);
        int changes = (flags & O_TRUNC) || ((flags & O_CREAT) && !there);
        if (refuse(changes ? CHANGE : READ, "open", whole, (flags & O_CREAT) && !there)) return -1;
        fresh = (flags & O_CREAT) && !there;
        if (there && (flags & O_TRUNC)) refuse(0, "open", whole, -blocks(found.st_size));
    }
    fd = real(folder, path, flags, rights);
    if (fd >= 0 && fd < MOST_FILES) ours[fd] = (unsigned char)inside;
    if (fd >= 0 && inside)
        note('O', (char)(fresh ? 'c' : (flags & O_TRUNC) ? 't' : 'o'), fd, 0, whole, "", "", 0);
    return fd;
}

#define RIGHTS(flags, last) \
    mode_t rights = 0; \
    if ((flags) & (O_CREAT | __O_TMPFILE)) { \
        va_list more; \
        va_start(more, last); \
        rights = (mode_t)va_arg(more, int); \
        va_end(more); \
    }

int open(const char *path, int flags, ...) {
    RIGHTS(flags, flags)
    return open_any(AT_FDCWD, path, flags, rights);
}

int open64(const char *path, int flags, ...) {
    RIGHTS(flags, flags)
    return open_any(AT_FDCWD, path, flags | O_LARGEFILE, rights);
}

int openat(int folder, const char *path, int flags, ...) {
    RIGHTS(flags, flags)
    return open_any(folder, path, flags, rights);
}

int openat64(int folder, const char *path, int flags, ...) {
    RIGHTS(flags, flags)
    return open_any(folder, path, flags | O_LARGEFILE, rights);
}

int close(int fd) {
    int inside = is_ours(fd), no, done, told;
    REAL(close);
    no = inside && refuse(CHANGE, "close", name_of(fd), 0);
    told = errno;
    if (inside) ours[fd] = 0, note('C', 0, fd, 0, "", "", "", 0);
    done = real(fd); /* it is gone all the same, as on a real disk */
    if (no) errno = told;
    return no ? -1 : done;
}

/* ---- bytes ---- */

/* How many bytes may be written at a place: all, fewer on a disk that fills, or -1. */
static ssize_t may_write(int fd, size_t size, long long at) {
    long long had = blocks(size_of(fd)), wants = blocks(at + (long long)size);
    long long growth = wants > had ? wants - had : 0;
    if (mode == BUDGET && growth > left && had + left > at && left >= 0) {
        size_t fits = (size_t)(had + left / BLOCK * BLOCK - at);
        if (fits && fits < size) {
            growth = left / BLOCK * BLOCK;
            return refuse(CHANGE, "write", name_of(fd), growth) ? -1 : (ssize_t)fits;
        }
    }
    return refuse(CHANGE, "write", name_of(fd), growth) ? -1 : (ssize_t)size;
}

static ssize_t write_at(int fd, const void *data, size_t size, off64_t at) {
    ssize_t done = (ssize_t)size;
    REAL(pwrite64);
    if (is_ours(fd)) {
        done = may_write(fd, size, at);
        if (done < 0) return -1;
    }
    done = real(fd, data, (size_t)done, at);
    if (done > 0 && is_ours(fd)) note('W', 0, fd, at, "", "", data, (size_t)done);
    return done;
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) {
    return write_at(fd, data, size, at);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at) {
    return write_at(fd, data, size, at);
}

ssize_t write(int fd, const void *data, size_t size) {
    long long at = 0;
    ssize_t done = (ssize_t)size;
    REAL(write);
    if (is_ours(fd)) {
        at = fcntl(fd, F_GETFL) & O_APPEND ? size_of(fd) : lseek(fd, 0, SEEK_CUR);
        done = may_write(fd, size, at);
        if (done < 0) return -1;
    }
    done = real(fd, data, (size_t)done);
    if (done > 0 && is_ours(fd)) note('W', 0, fd, at, "", "", data, (size_t)done);
    return done;
}

ssize_t writev(int fd, const struct iovec *parts, int count) {
    REAL(writev);
    if (!is_ours(fd)) return real(fd, parts, count);
    return count ? write(fd, parts[0].iov_base, parts[0].iov_len) : 0;
}

ssize_t read(int fd, void *data, size_t size) {
    REAL(read);
    if (is_ours(fd) && refuse(READ, "read", name_of(fd), 0)) return -1;
    return real(fd, data, size);
}

ssize_t pread64(int fd, void *data, size_t size, off64_t at) {
    REAL(pread64);
    if (is_ours(fd) && refuse(READ, "read", name_of(fd), 0)) return -1;
    return real(fd, data, size, at);
}

ssize_t pread(int fd, void *data, size_t size, off_t at) { return pread64(fd, data, size, at); }

/* Ways past read and write: told that they do not work here, whoever asks takes the plain way. */
ssize_t sendfile(int out, int in, off_t *at, size_t size) {
    static ssize_t (*real)(int, int, off_t *, size_t);
    if (!real) real = dlsym(RTLD_NEXT, "sendfile");
    return is_ours(out) || is_ours(in) ? (errno = EINVAL, -1) : real(out, in, at, size);
}

ssize_t sendfile64(int out, int in, off64_t *at, size_t size) {
    static ssize_t (*real)(int, int, off64_t *, size_t);
    if (!real) real = dlsym(RTLD_NEXT, "sendfile64");
    return is_ours(out) || is_ours(in) ? (errno = EINVAL, -1) : real(out, in, at, size);
}

ssize_t copy_file_range(int in, off64_t *a, int out, off64_t *b, size_t size, unsigned flags) {
    REAL(copy_file_range);
    return is_ours(out) || is_ours(in) ? (errno = EINVAL, -1) : real(in, a, out, b, size, flags);
}

static int cut_to(int fd, off64_t size) {
    int done;
    REAL(ftruncate64);
    if (is_ours(fd)) {
        long long growth = blocks(size) - blocks(size_of(fd));
        if (refuse(CHANGE, "truncate", name_of(fd), growth < 0 ? growth : 0)) return -1;
    }
    done = real(fd, size);
    if (!done && is_ours(fd)) note('T', 0, fd, size, "", "", "", 0);
    return done;
}

int ftruncate64(int fd, off64_t size) { return cut_to(fd, size); }
int ftruncate(int fd, off_t size) { return cut_to(fd, size); }

/* ---- down to the disk ---- */

int fsync(int fd) {
    int done;
    REAL(fsync);
    if (is_ours(fd) && refuse(CHANGE, "sync", name_of(fd), 0)) return -1;
    done = is_ours(fd) ? 0 : real(fd); /* the tests' own disk need not keep anything */
    if (!done && is_ours(fd)) note('S', 0, fd, 0, "", "", "", 0);
    return done;
}

int fdatasync(int fd) { return fsync(fd); }

/* ---- names ---- */

static int rename_any(int a, const char *from, int b, const char *to) {
    char first[LONGEST], second[LONGEST];
    int done, inside = below(a, from, first) & below(b, to, second);
    REAL(renameat);
    if (inside && refuse(CHANGE, "rename", second, -freed_by(second))) return -1;
    done = real(a, from, b, to);
    if (!done && inside) note('N', 0, -1, 0, first, second, "", 0);
    return done;
}

int rename(const char *from, const char *to) { return rename_any(AT_FDCWD, from, AT_FDCWD, to); }
int renameat(int a, const char *from, int b, const char *to) { return rename_any(a, from, b, to); }

int linkat(int a, const char *from, int b, const char *to, int flags) {
    char first[LONGEST], second[LONGEST];
    int done, inside = below(a, from, first) & below(b, to, second);
    REAL(linkat);
    if (inside && refuse(CHANGE, "link", second, 1)) return -1;
    done = real(a, from, b, to, flags);
    if (!done && inside) note('L', 0, -1, 0, first, second, "", 0);
    return done;
}

int link(const char *from, const char *to) { return linkat(AT_FDCWD, from, AT_FDCWD, to, 0); }

int unlinkat(int folder, const char *path, int flags) {
    char whole[LONGEST];
    int done, inside = below(folder, path, whole);
    REAL(unlinkat);
    if (inside && refuse(CHANGE, "unlink", whole, -freed_by(whole))) return -1;
    done = real(folder, path, flags);
    if (!done && inside) note(flags & AT_REMOVEDIR ? 'R' : 'U', 0, -1, 0, whole, "", "", 0);
    return done;
}

int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }
int rmdir(const char *path) { return unlinkat(AT_FDCWD, path, AT_REMOVEDIR); }

int mkdirat(int folder, const char *path, mode_t rights) {
    char whole[LONGEST];
    int done, inside = below(folder, path, whole);
    REAL(mkdirat);
    if (inside && refuse(CHANGE, "mkdir", whole, BLOCK)) return -1;
    done = real(folder, path, rights);
    if (!done && inside) note('M', 0, -1, 0, whole, "", "", 0);
    return done;
}

int mkdir(const char *path, mode_t rights) { return mkdirat(AT_FDCWD, path, rights); }
