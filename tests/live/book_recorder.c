/* Writes down, in the order in which it happens, all that a process does to the files of one folder.

   Loaded before the C library (LD_PRELOAD), so that it sees every call of the process: those of
   SQLite and those of Python. Two environment variables: NECKRING_FOLDER, whose files are watched,
   and NECKRING_TRACE, where the record goes. A sync is written down where it begins and where it
   ends, and not passed on: that nothing is lost is judged from the record, not from this disk.

   What this recorder does not understand is written down as '!', and fails the test. Whether it
   missed anything is found by comparing the files with what the record makes of them.

   Each record: letter, id of the file (its inode), offset, length of what follows, all as in
   struct.Struct("<cQqq") of Python; then the data or the path. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

#define MOST_FILES 4096
#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

static pthread_mutex_t alone = PTHREAD_MUTEX_INITIALIZER;
static int trace = -1;
static const char *folder;
static size_t folder_length;
static ino_t watched[MOST_FILES];
static char is_memory[MOST_FILES];

__attribute__((constructor)) static void begin(void) {
    const char *path = getenv("NECKRING_TRACE");
    folder = getenv("NECKRING_FOLDER");
    if (!path || !folder) return;
    folder_length = strlen(folder);
    trace = REAL(open)(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (trace < 0) abort();
}

static void put(const void *data, size_t length) {
    const char *at = data;
    while (length) {
        ssize_t done = REAL(write)(trace, at, length);
        if (done < 0) abort();
        at += done, length -= (size_t)done;
    }
}

static void record(char letter, ino_t id, off_t offset, const void *data, size_t length) {
    unsigned char head[25];
    unsigned long long id_ = id;
    long long offset_ = offset, length_ = (long long)length;
    head[0] = (unsigned char)letter;
    memcpy(head + 1, &id_, 8), memcpy(head + 9, &offset_, 8), memcpy(head + 17, &length_, 8);
    put(head, sizeof head);
    put(data, length);
}

static void strange(const char *what) { record('!', 0, 0, what, strlen(what)); }

static int ours(const char *path) {
    return trace >= 0 && !strncmp(path, folder, folder_length) &&
           (path[folder_length] == '/' || !path[folder_length]);
}

static ino_t watched_id(int file) {
    return trace >= 0 && file >= 0 && file < MOST_FILES && !is_memory[file] ? watched[file] : 0;
}

static const char *inside(const char *path) {
    return path[folder_length] ? path + folder_length + 1 : ".";
}

static int opened(int file, const char *path, int flags, int existed) {
    struct stat about;
    size_t length = strlen(path);
    if (file < 0 || file >= MOST_FILES || fstat(file, &about)) return file;
    watched[file] = about.st_ino;
    is_memory[file] = length > 4 && !strcmp(path + length - 4, "-shm");
    record('O', about.st_ino, !existed, inside(path), strlen(inside(path)));
    if (existed && (flags & O_TRUNC)) record('T', about.st_ino, 0, "", 0);
    return file;
}

static int open_as(const char *path, int flags, mode_t mode) {
    int file, existed;
    if (!ours(path)) return REAL(open)(path, flags, mode);
    pthread_mutex_lock(&alone);
    existed = !access(path, F_OK);
    file = opened(REAL(open)(path, flags, mode), path, flags, existed);
    pthread_mutex_unlock(&alone);
    return file;
}

static mode_t mode_of(int flags, va_list rest) {
    return flags & O_CREAT ? (mode_t)va_arg(rest, int) : 0;
}

#define OPEN(name)                              \
    int name(const char *path, int flags, ...) { \
        va_list rest;                           \
        mode_t mode;                            \
        va_start(rest, flags);                  \
        mode = mode_of(flags, rest);            \
        va_end(rest);                           \
        return open_as(path, flags, mode);      \
    }
OPEN(open)
OPEN(open64)
int __open_2(const char *path, int flags) { return open_as(path, flags, 0); }
int __open64_2(const char *path, int flags) { return open_as(path, flags, 0); }

int openat(int at, const char *path, int flags, ...) {
    va_list rest;
    mode_t mode;
    va_start(rest, flags);
    mode = mode_of(flags, rest);
    va_end(rest);
    if (ours(path)) return open_as(path, flags, mode);
    return REAL(openat)(at, path, flags, mode);
}
int openat64(int at, const char *path, int flags, ...) {
    va_list rest;
    mode_t mode;
    va_start(rest, flags);
    mode = mode_of(flags, rest);
    va_end(rest);
    if (ours(path)) return open_as(path, flags, mode);
    return REAL(openat64)(at, path, flags, mode);
}

int close(int file) {
    if (trace >= 0 && file >= 0 && file < MOST_FILES) watched[file] = 0, is_memory[file] = 0;
    return REAL(close)(file);
}

static ssize_t written_at(int file, const void *data, size_t length, off_t offset) {
    ino_t id = watched_id(file);
    ssize_t done;
    if (!id) return REAL(pwrite)(file, data, length, offset);
    pthread_mutex_lock(&alone);
    done = REAL(pwrite)(file, data, length, offset);
    if (done > 0) record('W', id, offset, data, (size_t)done);
    pthread_mutex_unlock(&alone);
    return done;
}
ssize_t pwrite(int file, const void *data, size_t length, off_t offset) {
    return written_at(file, data, length, offset);
}
ssize_t pwrite64(int file, const void *data, size_t length, off64_t offset) {
    return written_at(file, data, length, (off_t)offset);
}

ssize_t write(int file, const void *data, size_t length) {
    ino_t id = watched_id(file);
    ssize_t done;
    if (!id) return REAL(write)(file, data, length);
    pthread_mutex_lock(&alone);
    done = REAL(write)(file, data, length);
    if (done > 0) record('W', id, lseek(file, 0, SEEK_CUR) - done, data, (size_t)done);
    pthread_mutex_unlock(&alone);
    return done;
}

static int cut(int file, off_t length) {
    ino_t id = watched_id(file);
    int result;
    if (!id) return REAL(ftruncate)(file, length);
    pthread_mutex_lock(&alone);
    result = REAL(ftruncate)(file, length);
    if (!result) record('T', id, length, "", 0);
    pthread_mutex_unlock(&alone);
    return result;
}
int ftruncate(int file, off_t length) { return cut(file, length); }
int ftruncate64(int file, off64_t length) { return cut(file, (off_t)length); }

static int synced(int file) {
    ino_t id = watched_id(file);
    if (!id) return 0;
    pthread_mutex_lock(&alone);
    record('B', id, 0, "", 0);
    pthread_mutex_unlock(&alone);
    pthread_mutex_lock(&alone);
    record('S', id, 0, "", 0);
    pthread_mutex_unlock(&alone);
    return 0;
}
int fsync(int file) { return synced(file); }
int fdatasync(int file) { return synced(file); }

int unlink(const char *path) {
    int result;
    if (!ours(path)) return REAL(unlink)(path);
    pthread_mutex_lock(&alone);
    result = REAL(unlink)(path);
    if (!result) record('U', 0, 0, inside(path), strlen(inside(path)));
    pthread_mutex_unlock(&alone);
    return result;
}

int mkdir(const char *path, mode_t mode) {
    int result;
    if (!ours(path)) return REAL(mkdir)(path, mode);
    pthread_mutex_lock(&alone);
    result = REAL(mkdir)(path, mode);
    if (!result) record('M', 0, 0, inside(path), strlen(inside(path)));
    pthread_mutex_unlock(&alone);
    return result;
}

/* What neither SQLite nor the book is known to do: if it does, the test must not go on. */
int rename(const char *from, const char *to) {
    if (ours(from) || ours(to)) strange("rename");
    return REAL(rename)(from, to);
}
void *mmap(void *at, size_t length, int protection, int flags, int file, off_t offset) {
    if (watched_id(file) && (flags & MAP_SHARED) && (protection & PROT_WRITE)) strange("mmap");
    return REAL(mmap)(at, length, protection, flags, file, offset);
}
void *mmap64(void *at, size_t length, int protection, int flags, int file, off64_t offset) {
    if (watched_id(file) && (flags & MAP_SHARED) && (protection & PROT_WRITE)) strange("mmap64");
    return REAL(mmap64)(at, length, protection, flags, file, offset);
}
int posix_fallocate(int file, off_t offset, off_t length) {
    if (watched_id(file)) strange("posix_fallocate");
    return REAL(posix_fallocate)(file, offset, length);
}
int fallocate(int file, int mode, off_t offset, off_t length) {
    if (watched_id(file)) strange("fallocate");
    return REAL(fallocate)(file, mode, offset, length);
}
ssize_t writev(int file, const struct iovec *parts, int count) {
    if (watched_id(file)) strange("writev");
    return REAL(writev)(file, parts, count);
}
int dup(int file) {
    if (watched_id(file)) strange("dup");
    return REAL(dup)(file);
}
