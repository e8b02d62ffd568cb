/*
 * Do threads, locks, clocks, random bytes and wake-ups keep the promises of os.h?
 */
#if defined(__linux__)
#define _GNU_SOURCE
#endif
#include "test.h"

#include "model/memory.h"
#include "os/os.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <unistd.h>

#define LONG_US UINT64_C(10000000)

static void test_clocks(void **state)
{
    (void)state;
    assert_true(os_time_utc_ms() > INT64_C(1600000000000));
    uint64_t first = os_monotonic_us();
    uint64_t second = os_monotonic_us();
    assert_true(second >= first);
}

static void test_random(void **state)
{
    (void)state;
    uint8_t one[32] = {0};
    uint8_t other[32] = {0};
    assert_true(os_random(one, sizeof one));
    assert_true(os_random(other, sizeof other));
    assert_memory_not_equal(one, other, sizeof one);
    assert_true(os_random(one, 0));
}

static bool readable(const struct os_signal *signal)
{
    struct pollfd item = {.fd = (int)os_signal_handle(signal), .events = POLLIN};
    return poll(&item, 1, 0) == 1;
}

static void test_signal_is_a_level(void **state)
{
    (void)state;
    struct os_signal *level = os_signal_create(&memory_heap);
    assert_non_null(level);
    assert_false(readable(level));
    os_signal_set(level);
    os_signal_set(level);
    assert_true(readable(level));
    assert_true(readable(level));
    os_signal_clear(level);
    assert_false(readable(level));
    os_signal_clear(level);
    os_signal_set(level);
    assert_true(readable(level));
    int flags = fcntl((int)os_signal_handle(level), F_GETFD);
    assert_true((flags & FD_CLOEXEC) != 0);
    os_signal_destroy(&memory_heap, level);
    os_signal_destroy(&memory_heap, NULL);
}

static void test_wait(void **state)
{
    (void)state;
    struct os_signal *level = os_signal_create(&memory_heap);
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    uint64_t before = os_monotonic_us();
    assert_int_equal(os_wait(-1, NULL, before + 2000), 0);
    assert_true(os_monotonic_us() >= before + 2000);
    assert_int_equal(os_wait(ends[0], level, 0), 0);
    assert_int_equal(write(ends[1], "x", 1), 1);
    assert_int_equal(os_wait(ends[0], level, 0), OS_READY_PORT);
    os_signal_set(level);
    assert_int_equal(os_wait(ends[0], level, UINT64_MAX), OS_READY_PORT | OS_READY_SIGNAL);
    assert_int_equal(os_wait(-1, level, UINT64_MAX), OS_READY_SIGNAL);
    close(ends[1]);
    close(ends[0]);
    /* A handle that is closed must be looked at, not waited for. */
    assert_int_equal(os_wait(ends[0], NULL, os_monotonic_us() + LONG_US), OS_READY_PORT);
    os_signal_destroy(&memory_heap, level);
}

struct shared {
    struct os_mutex *mutex;
    struct os_condition *condition;
    struct os_signal *level;
    int count;
    atomic_int done;
};

static void count_up(void *user)
{
    struct shared *shared = user;
    for (int i = 0; i < 1000; i++) {
        os_mutex_lock(shared->mutex);
        shared->count++;
        os_mutex_unlock(shared->mutex);
    }
    os_mutex_lock(shared->mutex);
    os_condition_wake_all(shared->condition);
    os_mutex_unlock(shared->mutex);
    os_signal_set(shared->level);
}

static void test_threads_and_conditions(void **state)
{
    (void)state;
    struct shared shared = {os_mutex_create(&memory_heap), os_condition_create(&memory_heap),
                            os_signal_create(&memory_heap), 0, 0};
    os_mutex_lock(shared.mutex);
    assert_false(os_condition_wait(shared.condition, shared.mutex, os_monotonic_us()));
    assert_false(os_condition_wait(shared.condition, shared.mutex, os_monotonic_us() + 1000));
    struct os_thread *one = os_thread_start(&memory_heap, "a-name-longer-than-15", count_up, &shared);
    struct os_thread *other = os_thread_start(&memory_heap, "other", count_up, &shared);
    assert_non_null(one);
    assert_non_null(other);
    uint64_t until = os_monotonic_us() + LONG_US;
    while (shared.count < 2000)
        assert_true(os_condition_wait(shared.condition, shared.mutex, until));
    os_mutex_unlock(shared.mutex);
    assert_int_equal(os_wait(-1, shared.level, os_monotonic_us() + LONG_US), OS_READY_SIGNAL);
    os_thread_join(&memory_heap, one);
    os_thread_join(&memory_heap, other);
    os_thread_join(&memory_heap, NULL);
    os_mutex_lock(shared.mutex);
    os_condition_wake_all(shared.condition);
    os_mutex_unlock(shared.mutex);
    os_mutex_destroy(&memory_heap, shared.mutex);
    os_condition_destroy(&memory_heap, shared.condition);
    os_signal_destroy(&memory_heap, shared.level);
    os_mutex_destroy(&memory_heap, NULL);
    os_condition_destroy(&memory_heap, NULL);
}

static void wait_for_ever(void *user)
{
    struct shared *shared = user;
    os_mutex_lock(shared->mutex);
    shared->count = 1;
    os_condition_wake_all(shared->condition);
    while (shared->count != 2)
        (void)os_condition_wait(shared->condition, shared->mutex, UINT64_MAX);
    os_mutex_unlock(shared->mutex);
}

static void test_condition_without_end(void **state)
{
    (void)state;
    struct shared shared = {os_mutex_create(&memory_heap), os_condition_create(&memory_heap), NULL, 0, 0};
    struct os_thread *thread = os_thread_start(&memory_heap, "waiter", wait_for_ever, &shared);
    os_mutex_lock(shared.mutex);
    while (shared.count != 1)
        assert_true(os_condition_wait(shared.condition, shared.mutex, os_monotonic_us() + LONG_US));
    shared.count = 2;
    os_condition_wake_all(shared.condition);
    os_mutex_unlock(shared.mutex);
    os_thread_join(&memory_heap, thread);
    os_mutex_destroy(&memory_heap, shared.mutex);
    os_condition_destroy(&memory_heap, shared.condition);
}

static void mask_read(void *user)
{
    sigset_t mask;
    pthread_sigmask(SIG_SETMASK, NULL, &mask);
    *(int *)user = sigismember(&mask, SIGTERM) == 1 && sigismember(&mask, SIGUSR1) == 1;
}

static void test_threads_block_signals(void **state)
{
    (void)state;
    int blocked = 0;
    struct os_thread *thread = os_thread_start(&memory_heap, "mask", mask_read, &blocked);
    os_thread_join(&memory_heap, thread);
    assert_true(blocked);
    sigset_t mask;
    pthread_sigmask(SIG_SETMASK, NULL, &mask);
    assert_int_equal(sigismember(&mask, SIGTERM), 0);
}

static void wait_and_tell(void *user)
{
    struct shared *shared = user;
    (void)os_wait(-1, shared->level, os_monotonic_us() + LONG_US);
    atomic_store(&shared->done, 1);
}

static void tell(void *user)
{
    struct shared *shared = user;
    atomic_store(&shared->done, 1);
}

/* The sanitizers tell whether the thread's block was freed, and freed once, in either order. */
static void test_thread_left_alone(void **state)
{
    (void)state;
    static struct shared shared;
    shared.level = os_signal_create(&memory_heap);
    struct os_thread *thread = os_thread_start(&memory_heap, "left", wait_and_tell, &shared);
    os_thread_leave(&memory_heap, thread);
    os_signal_set(shared.level);
    uint64_t until = os_monotonic_us() + LONG_US;
    while (!atomic_load(&shared.done) && os_monotonic_us() < until)
        (void)os_wait(-1, NULL, os_monotonic_us() + 1000);
    assert_int_equal(atomic_load(&shared.done), 1);
    os_signal_destroy(&memory_heap, shared.level);
    for (int i = 0; i < 50; i++) {
        atomic_store(&shared.done, 0);
        thread = os_thread_start(&memory_heap, "left", tell, &shared);
        while (i % 2 == 0 && !atomic_load(&shared.done))
            (void)os_wait(-1, NULL, os_monotonic_us() + 1000);
        os_thread_leave(&memory_heap, thread);
        while (!atomic_load(&shared.done))
            (void)os_wait(-1, NULL, os_monotonic_us() + 1000);
    }
}

static void on_alarm(int number)
{
    (void)number;
}

static void test_wait_survives_signals(void **state)
{
    (void)state;
    struct sigaction action = {.sa_handler = on_alarm};
    struct sigaction before;
    sigaction(SIGALRM, &action, &before);
    uint64_t begin = os_monotonic_us();
    alarm(1);
    assert_int_equal(os_wait(-1, NULL, begin + 1200000), 0);
    assert_true(os_monotonic_us() >= begin + 1200000);
    sigaction(SIGALRM, &before, NULL);
}

/* Fails from the n-th allocation on. */
struct failing {
    int left;
};

static void *failing_allocate(void *user, size_t size)
{
    struct failing *failing = user;
    return failing->left-- > 0 ? malloc(size) : NULL;
}

static void failing_release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void test_no_memory(void **state)
{
    (void)state;
    struct failing failing = {0};
    struct memory memory = {&failing, failing_allocate, failing_release};
    assert_null(os_mutex_create(&memory));
    assert_null(os_condition_create(&memory));
    assert_null(os_signal_create(&memory));
    assert_null(os_thread_start(&memory, "none", tell, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_clocks),
        cmocka_unit_test(test_random),
        cmocka_unit_test(test_signal_is_a_level),
        cmocka_unit_test(test_wait),
        cmocka_unit_test(test_threads_and_conditions),
        cmocka_unit_test(test_condition_without_end),
        cmocka_unit_test(test_threads_block_signals),
        cmocka_unit_test(test_thread_left_alone),
        cmocka_unit_test(test_wait_survives_signals),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
