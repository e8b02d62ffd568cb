/*
 * How POSIX systems give us threads, locks, clocks, random bytes and wake-ups. See os.h.
 * Nothing here changes the process: no signal handler, no locale, no signal mask but that of our own threads.
 */
#if defined(__linux__)
#define _GNU_SOURCE /* pipe2: close-on-exec from the first moment, since a host may fork in another thread */
#endif

#include "os/os.h"

#include "model/memory.h"
#include "model/text.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#if defined(__linux__)
#include <sys/prctl.h>
#include <sys/random.h>
#endif

#define MICROSECONDS UINT64_C(1000000)
/* The longest single wait: long enough to mean 'for ever', short enough for every system's timespec. */
#define WAIT_LONGEST_US (UINT64_C(366) * 24 * 3600 * MICROSECONDS)

/* ---- Clocks and random bytes ---- */

int64_t os_time_utc_ms(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

uint64_t os_monotonic_us(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * MICROSECONDS + (uint64_t)now.tv_nsec / 1000;
}

static bool urandom_read(uint8_t *bytes, size_t length)
{
    int file = open("/dev/urandom", O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return false;
    size_t filled = 0;
    while (filled < length) {
        ssize_t count = read(file, bytes + filled, length - filled);
        if (count > 0)
            filled += (size_t)count;
        else if (count == 0 || errno != EINTR)
            break;
    }
    close(file);
    return filled == length;
}

bool os_random(uint8_t *bytes, size_t length)
{
    size_t filled = 0;
#if defined(__linux__)
    while (filled < length) {
        ssize_t count = getrandom(bytes + filled, length - filled, 0);
        if (count >= 0)
            filled += (size_t)count;
        else if (errno != EINTR)
            break; /* a kernel without the call, or a sandbox that forbids it */
    }
#endif
    return filled == length || urandom_read(bytes + filled, length - filled);
}

/* ---- Locks ---- */

struct os_mutex {
    pthread_mutex_t native;
};

struct os_mutex *os_mutex_create(const struct memory *memory)
{
    struct os_mutex *mutex = memory_allocate(memory, sizeof *mutex);
    if (mutex == NULL || pthread_mutex_init(&mutex->native, NULL) == 0)
        return mutex;
    memory_release(memory, mutex);
    return NULL;
}

void os_mutex_destroy(const struct memory *memory, struct os_mutex *mutex)
{
    if (mutex == NULL)
        return;
    pthread_mutex_destroy(&mutex->native);
    memory_release(memory, mutex);
}

void os_mutex_lock(struct os_mutex *mutex)
{
    pthread_mutex_lock(&mutex->native);
}

void os_mutex_unlock(struct os_mutex *mutex)
{
    pthread_mutex_unlock(&mutex->native);
}

struct os_condition {
    pthread_cond_t native;
};

static bool condition_begin(pthread_cond_t *condition)
{
#if defined(__APPLE__)
    /* No pthread_condattr_setclock there: waits use a relative time instead, which is monotonic. */
    return pthread_cond_init(condition, NULL) == 0;
#else
    pthread_condattr_t attributes;
    if (pthread_condattr_init(&attributes) != 0)
        return false;
    bool good = pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC) == 0 &&
                pthread_cond_init(condition, &attributes) == 0;
    pthread_condattr_destroy(&attributes);
    return good;
#endif
}

struct os_condition *os_condition_create(const struct memory *memory)
{
    struct os_condition *condition = memory_allocate(memory, sizeof *condition);
    if (condition == NULL || condition_begin(&condition->native))
        return condition;
    memory_release(memory, condition);
    return NULL;
}

void os_condition_destroy(const struct memory *memory, struct os_condition *condition)
{
    if (condition == NULL)
        return;
    pthread_cond_destroy(&condition->native);
    memory_release(memory, condition);
}

static struct timespec timespec_of(uint64_t time_us)
{
    struct timespec time = {.tv_sec = (time_t)(time_us / MICROSECONDS),
                            .tv_nsec = (long)(time_us % MICROSECONDS) * 1000};
    return time;
}

/* Microseconds from now until then, at most WAIT_LONGEST_US. */
static uint64_t time_left_us(uint64_t until_us, uint64_t now_us)
{
    if (until_us <= now_us)
        return 0;
    return until_us - now_us < WAIT_LONGEST_US ? until_us - now_us : WAIT_LONGEST_US;
}

bool os_condition_wait(struct os_condition *condition, struct os_mutex *mutex, uint64_t until_us)
{
    uint64_t now_us = os_monotonic_us();
    uint64_t left_us = time_left_us(until_us, now_us);
    if (left_us == 0)
        return false;
#if defined(__APPLE__)
    struct timespec time = timespec_of(left_us);
    return pthread_cond_timedwait_relative_np(&condition->native, &mutex->native, &time) == 0;
#else
    struct timespec time = timespec_of(now_us + left_us);
    return pthread_cond_timedwait(&condition->native, &mutex->native, &time) == 0;
#endif
}

void os_condition_wake_all(struct os_condition *condition)
{
    pthread_cond_broadcast(&condition->native);
}

/* ---- Threads ---- */

/* Who frees a thread's block when nobody joins it: the one that comes second. */
enum { THREAD_RUNNING = 0, THREAD_LEFT = 1, THREAD_ENDED = 2 };

struct os_thread {
    pthread_t native;
    const struct memory *memory;
    atomic_int life;
    void (*run)(void *user);
    void *user;
    char name[16]; /* the longest that Linux takes, ending byte included: prctl(2), PR_SET_NAME */
};

static void *thread_run(void *user)
{
    struct os_thread *thread = user;
#if defined(__linux__)
    prctl(PR_SET_NAME, thread->name);
#elif defined(__APPLE__)
    pthread_setname_np(thread->name);
#endif
    thread->run(thread->user);
    if (atomic_exchange(&thread->life, THREAD_ENDED) == THREAD_LEFT)
        memory_release(thread->memory, thread);
    return NULL;
}

struct os_thread *os_thread_start(const struct memory *memory, const char *name, void (*run)(void *user), void *user)
{
    struct os_thread *thread = memory_allocate(memory, sizeof *thread);
    if (thread == NULL)
        return NULL;
    thread->memory = memory;
    atomic_init(&thread->life, THREAD_RUNNING);
    thread->run = run;
    thread->user = user;
    text_copy(thread->name, sizeof thread->name, name);
    /* A new thread inherits the mask: with everything blocked, no signal of the host is ever handled on our threads. */
    sigset_t all;
    sigset_t before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    int failure = pthread_create(&thread->native, NULL, thread_run, thread);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (failure == 0)
        return thread;
    memory_release(memory, thread);
    return NULL;
}

void os_thread_join(const struct memory *memory, struct os_thread *thread)
{
    if (thread == NULL)
        return;
    pthread_join(thread->native, NULL);
    memory_release(memory, thread);
}

void os_thread_leave(const struct memory *memory, struct os_thread *thread)
{
    pthread_detach(thread->native);
    if (atomic_exchange(&thread->life, THREAD_LEFT) == THREAD_ENDED)
        memory_release(memory, thread);
}

/* ---- Signals: a level made of a pipe that holds one byte while it is set ---- */

struct os_signal {
    pthread_mutex_t lock; /* keeps `set` and the pipe the same */
    bool set;
    int reading;
    int writing;
};

static bool pipe_open(struct os_signal *level)
{
    int ends[2];
#if defined(__linux__)
    if (pipe2(ends, O_CLOEXEC | O_NONBLOCK) != 0)
        return false;
#else
    if (pipe(ends) != 0)
        return false;
    for (int i = 0; i < 2; i++) {
        fcntl(ends[i], F_SETFD, FD_CLOEXEC);
        fcntl(ends[i], F_SETFL, O_NONBLOCK);
    }
#endif
    level->reading = ends[0];
    level->writing = ends[1];
    return true;
}

struct os_signal *os_signal_create(const struct memory *memory)
{
    struct os_signal *level = memory_allocate(memory, sizeof *level);
    if (level == NULL)
        return NULL;
    if (pthread_mutex_init(&level->lock, NULL) != 0)
        goto free_level;
    if (!pipe_open(level))
        goto free_lock;
    return level;

free_lock:
    pthread_mutex_destroy(&level->lock);
free_level:
    memory_release(memory, level);
    return NULL;
}

void os_signal_destroy(const struct memory *memory, struct os_signal *signal)
{
    if (signal == NULL)
        return;
    close(signal->reading);
    close(signal->writing);
    pthread_mutex_destroy(&signal->lock);
    memory_release(memory, signal);
}

void os_signal_set(struct os_signal *signal)
{
    pthread_mutex_lock(&signal->lock);
    /* One byte always fits: the pipe is empty whenever `set` is false. Both ends are ours, so no SIGPIPE either. */
    while (!signal->set) {
        if (write(signal->writing, "!", 1) == 1)
            signal->set = true;
        else if (errno != EINTR)
            break;
    }
    pthread_mutex_unlock(&signal->lock);
}

void os_signal_clear(struct os_signal *signal)
{
    pthread_mutex_lock(&signal->lock);
    while (signal->set) {
        char byte;
        if (read(signal->reading, &byte, 1) == 1 || errno != EINTR)
            signal->set = false;
    }
    pthread_mutex_unlock(&signal->lock);
}

intptr_t os_signal_handle(const struct os_signal *signal)
{
    return signal->reading;
}

/* ---- Waiting ---- */

/* Rounded up, so that nobody wakes before the time and spins. */
static int poll_ms(uint64_t until_us)
{
    uint64_t left_ms = (time_left_us(until_us, os_monotonic_us()) + 999) / 1000;
    return left_ms < INT_MAX ? (int)left_ms : INT_MAX;
}

int os_wait(intptr_t port, const struct os_signal *signal, uint64_t until_us)
{
    /* poll(2) passes over negative descriptors. */
    struct pollfd items[2] = {{.fd = (int)port, .events = POLLIN},
                              {.fd = signal != NULL ? signal->reading : -1, .events = POLLIN}};
    for (;;) {
        int wait_ms = poll_ms(until_us);
        int count = poll(items, 2, wait_ms);
        if (count < 0 && errno != EINTR)
            return OS_READY_PORT; /* the next read on the port tells what is wrong */
        if (count > 0)
            return (items[0].revents != 0 ? OS_READY_PORT : 0) | (items[1].revents != 0 ? OS_READY_SIGNAL : 0);
        if (os_monotonic_us() >= until_us)
            return 0;
    }
}
