/* How does a test run the simulator? Starts the program, talks to it over TCP, and waits with a deadline for its end. */
#ifndef SIMULATOR_HARNESS_H
#define SIMULATOR_HARNESS_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

#include <cmocka.h>

enum { DEADLINE_MS = 10000, BYTES_MOST = 600, TEXT_MOST = 16384, WORDS_MOST = 16 };

struct run {
    pid_t process;
    int output, client;
    uint16_t port;
    char folder[64], script[96], log[96], errors[96], port_file[96];
};

int64_t now_ms(void);
/* True when there is something to read, or the other side has closed. */
bool readable(int descriptor, int64_t until_ms);
void file_read(const char *name, char text[TEXT_MOST]);

/* A folder of its own with this script in it. */
void run_prepare(struct run *run, const char *script);
void run_remove(const struct run *run);
/* Starts the script with --once, and connects. */
void run_start(struct run *run, const char *script);
void client_connect(struct run *run);
int run_status(struct run *run);
/* Closes the client and expects this exit status. */
void run_end(struct run *run, int status);
/* Runs the program to its end; gives its status and what it wrote to stderr. */
int run_words(struct run *run, const char *const *words, char text[TEXT_MOST]);

/* Bytes are written as in the fact sheets: decimal, with blanks. */
size_t bytes_parse(const char *text, uint8_t bytes[BYTES_MOST]);
void say(const struct run *run, const char *text);
void hear_bytes(const struct run *run, uint8_t *bytes, size_t count);
void hear(const struct run *run, const char *text);
void hear_end(const struct run *run);
void exchange(const struct run *run, const char *request, const char *answer);

#define POLL         "40 0 1 254 217"
#define ACK          "1 0 40 0 215"
#define EVENTS       "40 0 1 159 56"
#define ENABLE_TYPES "40 2 1 231 255 255 240"
#define MASTER_OPEN  "40 1 1 228 1 241"
#define FAST         "device start_ms 0\ndevice move_ms 0\n"
#define NOTES                                                                                                          \
    FAST "note 1 GB0005A\nnote 2 GB0010A\nnote 3 GB0020A\nnote 4 GB0050A\n"                                            \
         "country GB 100 2\n"

/* Answers stay in order: if the next one heard is that of the simple poll, the request met with silence. */
void expect_silence(const struct run *run, const char *request);
/* Polls events until the counter shows this value, then compares the whole answer. */
void expect_events(const struct run *run, const char *answer);
/* After a restart the device is silent for a while; asks again until it answers. */
void expect_restart(const struct run *run);
void enable(const struct run *run);
void expect_log(const struct run *run, const char *fragment);

#endif
