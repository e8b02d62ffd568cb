/*
 * A fresh ledger for each of thousands of trials: made once, then copied, on a disk in memory where there is one. What is
 * tried here is memory that runs out, not the disk.
 */
#ifndef LEDGER_COPY_H
#define LEDGER_COPY_H

#include "test.h"

#include <counterfoil/counterfoil.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static unsigned char ledger_copy_bytes[1048576];
static size_t ledger_copy_length;

/* Makes a folder of our own. `folder` holds at least 64 bytes. */
static inline void ledger_copy_folder(char *folder, const char *name)
{
    snprintf(folder, 64, "%s/counterfoil-%s-XXXXXX", access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp", name);
    assert_non_null(mkdtemp(folder));
}

static inline void ledger_copy_prepare(cfoil_context *context, const char *path)
{
    cfoil_ledger *ledger;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    assert_int_equal(cfoil_ledger_open(context, &options, &ledger), CFOIL_OK);
    cfoil_ledger_close(ledger);
    int file = open(path, O_RDONLY);
    assert_true(file >= 0);
    ssize_t length = read(file, ledger_copy_bytes, sizeof ledger_copy_bytes);
    assert_true(length > 0 && (size_t)length < sizeof ledger_copy_bytes);
    ledger_copy_length = (size_t)length;
    assert_int_equal(close(file), 0);
    assert_int_equal(unlink(path), 0);
}

/* Puts a ledger with nothing but its first entry there. */
static inline void ledger_copy_write(cfoil_context *context, const char *path)
{
    if (ledger_copy_length == 0)
        ledger_copy_prepare(context, path);
    int file = open(path, O_WRONLY | O_CREAT | O_EXCL, 0600);
    assert_true(file >= 0);
    assert_true(write(file, ledger_copy_bytes, ledger_copy_length) == (ssize_t)ledger_copy_length);
    assert_int_equal(close(file), 0);
}

#endif
