/*
 * From loading the library to a context that is ready, in fresh processes, against loading the libraries it needs.
 */
#include "bench.h"

#include <counterfoil/counterfoil.h>
#include <dlfcn.h>
#include <sys/wait.h>
#include <unistd.h>

enum { RUNS = 101 };

/* What a process pays without us: the same shared libraries, loaded and nothing else. */
static int floor_load(void)
{
    static const char *const names[] = {"libcjson.so.1", "libsqlite3.so.0", "libsodium.so.23", "libserialport.so.0"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (dlopen(names[i], RTLD_NOW | RTLD_LOCAL) == NULL)
            return 1;
    }
    return 0;
}

static int our_load(const char *library)
{
    void *loaded = dlopen(library, RTLD_NOW | RTLD_LOCAL);
    if (loaded == NULL)
        return 1;
    int32_t (*open)(const cfoil_context_options *, cfoil_context **);
    *(void **)&open = dlsym(loaded, "cfoil_context_open");
    cfoil_context *context;
    return open == NULL || open(NULL, &context) != CFOIL_OK;
}

static uint64_t one_run(const char *library)
{
    int pipes[2];
    if (pipe(pipes) != 0)
        bench_fail("pipe");
    pid_t child = fork();
    if (child == 0) {
        uint64_t begin = bench_now_ns();
        if (library != NULL ? our_load(library) : floor_load())
            _exit(1);
        uint64_t spent = bench_now_ns() - begin;
        _exit(write(pipes[1], &spent, sizeof spent) == sizeof spent ? 0 : 1);
    }
    uint64_t spent = 0;
    int status = 1;
    if (child < 0 || read(pipes[0], &spent, sizeof spent) != sizeof spent || waitpid(child, &status, 0) != child ||
        status != 0)
        bench_fail("loading");
    close(pipes[0]);
    close(pipes[1]);
    return spent;
}

int main(int count, char **arguments)
{
    if (count != 2)
        bench_fail("usage: bench_load LIBRARY;");
    static uint64_t bare[RUNS];
    static uint64_t ours[RUNS];
    for (int i = 0; i < RUNS; i++) {
        bare[i] = one_run(NULL);
        ours[i] = one_run(arguments[1]);
    }
    double bare_ms = (double)bench_percentile(bare, RUNS, 0.5) / 1e6;
    double our_ms = (double)bench_percentile(ours, RUNS, 0.5) / 1e6;
    printf("load    dependencies alone %.2f ms  library loaded and context ready %.2f ms  (median of %d)\n", bare_ms,
           our_ms, RUNS);
    return 0;
}
