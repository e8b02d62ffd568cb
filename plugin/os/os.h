/*
 * Threads, locks, clocks and wake-ups behind one small file for each system (os_posix.c; a Windows one comes later).
 */
#ifndef OS_OS_H
#define OS_OS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct os_mutex;
struct os_condition;
struct os_thread;
struct memory;

int64_t os_time_utc_ms(void);
uint64_t os_monotonic_us(void);
bool os_random(uint8_t *bytes, size_t length); /* from the system's generator; false = not available */

struct os_mutex *os_mutex_create(const struct memory *memory);
void os_mutex_destroy(const struct memory *memory, struct os_mutex *mutex);
void os_mutex_lock(struct os_mutex *mutex);
void os_mutex_unlock(struct os_mutex *mutex);

/* Conditions wait on the monotonic clock. */
struct os_condition *os_condition_create(const struct memory *memory);
void os_condition_destroy(const struct memory *memory, struct os_condition *condition);
bool os_condition_wait(struct os_condition *condition, struct os_mutex *mutex,
                       uint64_t until_us); /* false = time out */
void os_condition_wake_all(struct os_condition *condition);

struct os_thread *os_thread_start(const struct memory *memory, const char *name, void (*run)(void *user), void *user);
void os_thread_join(const struct memory *memory, struct os_thread *thread); /* frees it */

/* Lets a thread run on alone; it frees itself. Only for one that holds nothing of ours but the C heap. */
void os_thread_leave(const struct memory *memory, struct os_thread *thread);

/* A level that other code can watch: readable while set. */
struct os_signal;
struct os_signal *os_signal_create(const struct memory *memory);
void os_signal_destroy(const struct memory *memory, struct os_signal *signal);
void os_signal_set(struct os_signal *signal);
void os_signal_clear(struct os_signal *signal);
intptr_t os_signal_handle(const struct os_signal *signal);

/* Waits until `port` (a native handle, -1 = none) is readable, the signal is set, or the time has come.
 * Returns a mask of OS_READY_*; 0 = the time has come. */
enum { OS_READY_PORT = 1, OS_READY_SIGNAL = 2 };
int os_wait(intptr_t port, const struct os_signal *signal, uint64_t until_us);

#endif
