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

/* Exactly so many bytes, or the test fails. */
void hear_bytes(const struct run *run, uint8_t *bytes, size_t count);
/* The other side closes, and says nothing before. */
void hear_end(const struct run *run);
void expect_log(const struct run *run, const char *fragment);

/* The simulator must refuse this script with this message for this line. */
void expect_script_error(const char *script, int line, const char *message);
/* Every script of the folder must be well formed; gives their number. */
int scripts_check(const char *folder);

#endif
