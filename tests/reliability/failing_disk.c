/* A layer before the C library: the n-th change of a file below one folder fails, as a disk makes it fail.
 *
 * Loaded by LD_PRELOAD. FAILING_DISK_FOLDER names the folder, FAILING_DISK_ORDERS a file of
 * struct orders that the test and the service share; the test writes into it what is to fail.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

struct orders {
  atomic_long left;    /* changes until one fails; 0: none does */
  atomic_long error;   /* what it says then */
  atomic_long stays;   /* whether all later ones fail too, until the orders change */
  atomic_long refused; /* how many have failed */
};

static struct orders *orders;
static const char *folder;

__attribute__((constructor)) static void begin(void) {
  const char *path = getenv("FAILING_DISK_ORDERS");
  folder = getenv("FAILING_DISK_FOLDER");
  int handle = path && folder ? open(path, O_RDWR | O_CLOEXEC) : -1;
  if (handle < 0) return;
  void *shared = mmap(NULL, sizeof(struct orders), PROT_READ | PROT_WRITE, MAP_SHARED, handle, 0);
  close(handle);
  if (shared != MAP_FAILED) orders = shared;
}

static int below(const char *path) { return strncmp(path, folder, strlen(folder)) == 0; }

static int counted(void) {
  long left = atomic_load(&orders->left);
  while (left > 0) {
    if (left == 1 && atomic_load(&orders->stays)) break;
    if (atomic_compare_exchange_weak(&orders->left, &left, left - 1)) break;
  }
  if (left != 1) return 0;
  atomic_fetch_add(&orders->refused, 1);
  errno = (int)atomic_load(&orders->error);
  return 1;
}

static int refused_at(const char *path) {
  return orders && atomic_load(&orders->left) > 0 && below(path) && counted();
}

static int refused(int handle) {
  char link[64], path[4096];
  if (!orders || atomic_load(&orders->left) <= 0) return 0;
  snprintf(link, sizeof link, "/proc/self/fd/%d", handle);
  ssize_t length = readlink(link, path, sizeof path - 1);
  if (length < 0) return 0;
  path[length] = 0;
  return below(path) && counted();
}

#define NEXT(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int handle, const void *from, size_t count) {
  return refused(handle) ? -1 : NEXT(write)(handle, from, count);
}
ssize_t pwrite(int handle, const void *from, size_t count, off_t at) {
  return refused(handle) ? -1 : NEXT(pwrite)(handle, from, count, at);
}
ssize_t pwrite64(int handle, const void *from, size_t count, off64_t at) {
  return refused(handle) ? -1 : NEXT(pwrite64)(handle, from, count, at);
}
int fsync(int handle) { return refused(handle) ? -1 : NEXT(fsync)(handle); }
int fdatasync(int handle) { return refused(handle) ? -1 : NEXT(fdatasync)(handle); }
int ftruncate(int handle, off_t length) { return refused(handle) ? -1 : NEXT(ftruncate)(handle, length); }
int ftruncate64(int handle, off64_t length) { return refused(handle) ? -1 : NEXT(ftruncate64)(handle, length); }
int mkdir(const char *path, mode_t mode) { return refused_at(path) ? -1 : NEXT(mkdir)(path, mode); }
int rename(const char *from, const char *to) { return refused_at(to) ? -1 : NEXT(rename)(from, to); }

#define OPENING(name)                                             \
  int name(const char *path, int how, ...) {                      \
    mode_t mode = 0;                                              \
    if (how & O_CREAT) {                                          \
      va_list more;                                               \
      va_start(more, how);                                        \
      mode = va_arg(more, mode_t);                                \
      va_end(more);                                               \
      if (refused_at(path)) return -1;                            \
    }                                                             \
    return NEXT(name)(path, how, mode);                           \
  }
OPENING(open)
OPENING(open64)
