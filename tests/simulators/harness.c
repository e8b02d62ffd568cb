/* How does a test run the simulator? Processes, pipes and sockets; every wait ends on a condition or fails. */
#include "harness.h"

#include <dirent.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

bool readable(int descriptor, int64_t until_ms)
{
    int64_t left = until_ms - now_ms();
    struct pollfd watched = {.fd = descriptor, .events = POLLIN};
    return poll(&watched, 1, left > 0 ? (int)left : 0) > 0;
}

void file_read(const char *name, char text[TEXT_MOST])
{
    FILE *stream = fopen(name, "r");
    assert_non_null(stream);
    size_t length = fread(text, 1, TEXT_MOST - 1, stream);
    text[length] = '\0';
    fclose(stream);
}

static void file_write(const char *name, const char *text)
{
    FILE *stream = fopen(name, "w");
    assert_non_null(stream);
    assert_true(fputs(text, stream) >= 0);
    assert_int_equal(fclose(stream), 0);
}

void run_prepare(struct run *run, const char *script)
{
    *run = (struct run){.output = -1, .client = -1};
    strcpy(run->folder, "/tmp/simulator-test-XXXXXX");
    assert_non_null(mkdtemp(run->folder));
    snprintf(run->script, sizeof run->script, "%s/test.sim", run->folder);
    snprintf(run->log, sizeof run->log, "%s/truth.jsonl", run->folder);
    snprintf(run->errors, sizeof run->errors, "%s/errors", run->folder);
    snprintf(run->port_file, sizeof run->port_file, "%s/port", run->folder);
    file_write(run->script, script);
}

void run_remove(const struct run *run)
{
    unlink(run->script);
    unlink(run->log);
    unlink(run->errors);
    unlink(run->port_file);
    assert_int_equal(rmdir(run->folder), 0);
}

static void child_execute(const struct run *run, int output, const char *const *words)
{
    char *copies[WORDS_MOST] = {NULL}; /* execv wants them without const, and leaves them alone */
    for (size_t i = 0; words[i] != NULL && i < WORDS_MOST - 1; i++)
        memcpy(&copies[i], &words[i], sizeof copies[i]);
    int errors = open(run->errors, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (errors < 0 || dup2(output, STDOUT_FILENO) < 0 || dup2(errors, STDERR_FILENO) < 0)
        _exit(126);
    close(output);
    close(errors);
    execv(SIMULATOR, copies);
    _exit(127);
}

static void run_spawn(struct run *run, const char *const *words)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    run->process = fork();
    assert_true(run->process >= 0);
    if (run->process == 0) {
        close(ends[0]);
        child_execute(run, ends[1], words);
    }
    close(ends[1]);
    run->output = ends[0];
}

/* The program closes its output when it ends, so the wait needs no signal and no sleep. */
int run_status(struct run *run)
{
    char rest[256];
    int64_t until = now_ms() + DEADLINE_MS;
    ssize_t count = 1;
    while (count > 0) {
        if (!readable(run->output, until)) {
            kill(run->process, SIGKILL);
            waitpid(run->process, NULL, 0);
            fail_msg("the simulator did not end");
        }
        count = read(run->output, rest, sizeof rest);
    }
    close(run->output);
    int status = 0;
    assert_int_equal(waitpid(run->process, &status, 0), run->process);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

void client_connect(struct run *run)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(run->port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    run->client = socket(AF_INET, SOCK_STREAM, 0);
    assert_true(run->client >= 0);
    int yes = 1; /* without it, a request after an unanswered one waits for the other side's acknowledgement */
    assert_int_equal(setsockopt(run->client, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes), 0);
    assert_int_equal(connect(run->client, (const struct sockaddr *)&address, sizeof address), 0);
}

static void run_listen(struct run *run)
{
    char line[128] = "";
    size_t length = 0;
    int64_t until = now_ms() + DEADLINE_MS;
    while (strchr(line, '\n') == NULL && length < sizeof line - 1) {
        assert_true(readable(run->output, until));
        ssize_t count = read(run->output, line + length, 1);
        assert_int_equal(count, 1);
        line[++length] = '\0';
    }
    unsigned port = 0;
    assert_int_equal(sscanf(line, "listening on 127.0.0.1:%u", &port), 1);
    run->port = (uint16_t)port;
}

void run_start(struct run *run, const char *script)
{
    run_prepare(run, script);
    const char *const words[] = {"simulator",    "--script", run->script, "--log",  run->log, "--port-file",
                                 run->port_file, "--listen", "0",         "--once", NULL};
    run_spawn(run, words);
    run_listen(run);
    client_connect(run);
}

void run_end(struct run *run, int status)
{
    if (run->client >= 0)
        close(run->client);
    assert_int_equal(run_status(run), status);
    run_remove(run);
}

void hear_bytes(const struct run *run, uint8_t *bytes, size_t count)
{
    int64_t until = now_ms() + DEADLINE_MS;
    for (size_t got = 0; got < count;) {
        assert_true(readable(run->client, until));
        ssize_t more = recv(run->client, bytes + got, count - got, 0);
        assert_true(more > 0);
        got += (size_t)more;
    }
}

void hear_end(const struct run *run)
{
    uint8_t byte = 0;
    assert_true(readable(run->client, now_ms() + DEADLINE_MS));
    assert_true(recv(run->client, &byte, 1, 0) <= 0);
}

int run_words(struct run *run, const char *const *words, char text[TEXT_MOST])
{
    run_spawn(run, words);
    int status = run_status(run);
    file_read(run->errors, text);
    return status;
}

void expect_log(const struct run *run, const char *fragment)
{
    char text[TEXT_MOST];
    file_read(run->log, text);
    if (strstr(text, fragment) == NULL)
        fail_msg("the log lacks %s:\n%s", fragment, text);
}

void expect_script_error(const char *script, int line, const char *message)
{
    struct run run;
    char text[TEXT_MOST];
    char where[160];
    run_prepare(&run, script);
    const char *const words[] = {"simulator", "--script", run.script, NULL};
    assert_int_equal(run_words(&run, words, text), 2);
    snprintf(where, sizeof where, "%s:%d: ", run.script, line);
    if (strncmp(text, where, strlen(where)) != 0 || strstr(text, message) == NULL)
        fail_msg("expected '%s%s', got '%s'", where, message, text);
    run_remove(&run);
}

int scripts_check(const char *folder)
{
    struct run run;
    run_prepare(&run, "");
    DIR *directory = opendir(folder);
    assert_non_null(directory);
    int count = 0;
    for (struct dirent *entry = readdir(directory); entry != NULL; entry = readdir(directory)) {
        char name[1024];
        char text[TEXT_MOST];
        if (strstr(entry->d_name, ".sim") == NULL)
            continue;
        snprintf(name, sizeof name, "%s/%s", folder, entry->d_name);
        const char *const words[] = {"simulator", "--check", "--script", name, NULL};
        if (run_words(&run, words, text) != 0)
            fail_msg("%s", text);
        count++;
    }
    closedir(directory);
    run_remove(&run);
    return count;
}
