/* A disk that takes every write and then cannot keep it: of all calls that bring something to the disk, those from number
   FSYNC_FAILS_FROM up to FSYNC_FAILS_TO fail, counted from 1. How many there were is added to the file FSYNC_COUNT. */

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

static int calls;

static long number(const char *name)
{
    const char *text = getenv(name);
    return text ? atol(text) : 0;
}

static int kept(void)
{
    int call = __atomic_add_fetch(&calls, 1, __ATOMIC_SEQ_CST);
    const char *count = getenv("FSYNC_COUNT");
    int file = count ? open(count, O_WRONLY | O_CREAT | O_APPEND, 0600) : -1;
    if (file >= 0) {
        if (write(file, ".", 1) < 0) {
            abort();
        }
        close(file);
    }
    if (call >= number("FSYNC_FAILS_FROM") && call <= number("FSYNC_FAILS_TO")) {
        errno = EIO;
        return -1;
    }
    return 0;
}

int fsync(int file)
{
    (void)file;
    return kept();
}

int fdatasync(int file)
{
    (void)file;
    return kept();
}
