/*
 * From loading the library to a context that is ready, and to the first case, in fresh processes, against loading the
 * libraries it needs.
 */
#include "bench.h"

#include <counterfoil/counterfoil.h>
#include <dlfcn.h>
#include <stdbool.h>
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

static int our_load(const char *library, const char *language)
{
    void *loaded = dlopen(library, RTLD_NOW | RTLD_LOCAL);
    if (loaded == NULL)
        return 1;
    int32_t (*open)(const cfoil_context_options *, cfoil_context **);
    *(void **)&open = dlsym(loaded, "cfoil_context_open");
    int32_t (*case_open)(cfoil_context *, const cfoil_case_options *, cfoil_case **);
    *(void **)&case_open = dlsym(loaded, "cfoil_case_open");
    cfoil_context *context;
    if (open == NULL || case_open == NULL || open(NULL, &context) != CFOIL_OK)
        return 1;
    if (language == NULL)
        return 0;
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.jurisdiction = "euro-area";
    options.language = language;
    cfoil_case *doubt;
    return case_open(context, &options, &doubt) != CFOIL_OK;
}

/* NULL library = the floor; NULL language = no case is opened. */
static uint64_t one_run(const char *library, const char *language)
{
    int pipes[2];
    if (pipe(pipes) != 0)
        bench_fail("pipe");
    pid_t child = fork();
    if (child == 0) {
        uint64_t begin = bench_now_ns();
        if (library != NULL ? our_load(library, language) : floor_load())
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
    static const struct {
        const char *name, *language;
        bool ours;
    } ways[] = {{"its libraries alone", NULL, false},
                {"context ready", NULL, true},
                {"first case, English", "en", true},
                {"first case, Hindi", "hi", true}};
    enum { WAYS = sizeof ways / sizeof ways[0] };
    static uint64_t spent[WAYS][RUNS];
    for (int i = 0; i < RUNS; i++) {
        for (int way = 0; way < WAYS; way++)
            spent[way][i] = one_run(ways[way].ours ? arguments[1] : NULL, ways[way].language);
    }
    printf("load    ");
    for (int way = 0; way < WAYS; way++)
        printf("%s %.2f ms  ", ways[way].name, (double)bench_percentile(spent[way], RUNS, 0.5) / 1e6);
    printf("(median of %d)\n", RUNS);
    return 0;
}
