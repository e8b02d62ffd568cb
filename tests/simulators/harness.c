/* How does a test run the simulator? Processes, pipes and sockets; every wait ends on a condition or fails. */
#include "harness.h"

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
    const char *const words[] = {"cctalk-simulator", "--script", run->script, "--log",  run->log, "--port-file",
                                 run->port_file,     "--listen", "0",         "--once", NULL};
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

size_t bytes_parse(const char *text, uint8_t bytes[BYTES_MOST])
{
    size_t count = 0;
    char *end = NULL;
    for (const char *at = text; *at != '\0'; at = *end == ' ' ? end + 1 : end)
        bytes[count++] = (uint8_t)strtoul(at, &end, 10);
    return count;
}

void say(const struct run *run, const char *text)
{
    uint8_t bytes[BYTES_MOST];
    size_t count = bytes_parse(text, bytes);
    assert_int_equal(send(run->client, bytes, count, MSG_NOSIGNAL), count);
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

void hear(const struct run *run, const char *text)
{
    uint8_t expected[BYTES_MOST];
    uint8_t heard[BYTES_MOST];
    size_t count = bytes_parse(text, expected);
    hear_bytes(run, heard, count);
    assert_memory_equal(heard, expected, count);
}

void hear_end(const struct run *run)
{
    uint8_t byte = 0;
    assert_true(readable(run->client, now_ms() + DEADLINE_MS));
    assert_true(recv(run->client, &byte, 1, 0) <= 0);
}

void exchange(const struct run *run, const char *request, const char *answer)
{
    say(run, request);
    hear(run, answer);
}

int run_words(struct run *run, const char *const *words, char text[TEXT_MOST])
{
    run_spawn(run, words);
    int status = run_status(run);
    file_read(run->errors, text);
    return status;
}

void expect_silence(const struct run *run, const char *request)
{
    say(run, request);
    exchange(run, POLL, ACK);
}

void expect_events(const struct run *run, const char *answer)
{
    uint8_t expected[BYTES_MOST];
    uint8_t heard[16] = {0};
    bytes_parse(answer, expected);
    int64_t until = now_ms() + DEADLINE_MS;
    while (heard[4] != expected[4] || heard[1] == 0) {
        assert_true(now_ms() < until);
        say(run, EVENTS);
        hear_bytes(run, heard, sizeof heard);
    }
    assert_memory_equal(heard, expected, sizeof heard);
}

void expect_restart(const struct run *run)
{
    int64_t until = now_ms() + DEADLINE_MS;
    do {
        assert_true(now_ms() < until);
        say(run, POLL);
    } while (!readable(run->client, now_ms() + 20));
    hear(run, ACK);
}

void enable(const struct run *run)
{
    exchange(run, ENABLE_TYPES, ACK);
    exchange(run, "40 1 1 153 3 58", ACK);
    exchange(run, MASTER_OPEN, ACK);
}

void expect_log(const struct run *run, const char *fragment)
{
    char text[TEXT_MOST];
    file_read(run->log, text);
    if (strstr(text, fragment) == NULL)
        fail_msg("the log lacks %s:\n%s", fragment, text);
}
