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

/* Shared libraries that are loaded by name of the file. What is loaded runs at once, with all rights of the process. */
struct os_library;
enum os_library_result {
    OS_LIBRARY_OPEN = 0,
    OS_LIBRARY_NO_FILE, /* nothing there that could be read */
    OS_LIBRARY_REFUSED, /* a file, but the system's loader does not take it */
    OS_LIBRARY_NO_MEMORY
};
struct os_library_fault {
    int32_t os_code;
    char line[200]; /* why, without the file's name */
};
typedef void (*os_function)(void);

/* `path` is taken as it is: with a folder in it no search path is used. Names are resolved at once, and none of them
 * serves other libraries. `*library` is NULL unless the answer is OS_LIBRARY_OPEN. */
enum os_library_result os_library_open(const struct memory *memory, const char *path, struct os_library **library,
                                       struct os_library_fault *fault);
void os_library_close(const struct memory *memory, struct os_library *library);      /* NULL is harmless */
os_function os_library_function(const struct os_library *library, const char *name); /* NULL = no such symbol */
bool os_path_has_folder(const char *path);

#endif
