/*
 * A small file of secrets: read only when it belongs to its owner alone, written whole or not at all.
 */
#ifndef LEDGER_SECRET_FILE_H
#define LEDGER_SECRET_FILE_H

#include "ledger/file.h"

#include <stddef.h>

enum secret_answer {
    SECRET_READ = 0,
    SECRET_MISSING,      /* nothing there */
    SECRET_NOT_PLAIN,    /* a link, a folder, a device: not an ordinary file */
    SECRET_OTHERS_OWNER, /* it belongs to another account than ours and the ledger's */
    SECRET_RIGHTS,       /* others than allowed have rights on it */
    SECRET_TOO_LARGE,    /* more than `capacity` bytes */
    SECRET_FAILED        /* *os_code tells */
};

/* Reads the file into `text` (no ending byte). `beside` is the ledger, whose owner may own this file too; `allowed` says
 * who besides the owner may have rights. On a system that knows no such rights they come from the folder. */
enum secret_answer secret_file_read(const char *path, const char *beside, enum file_rights allowed, char *text,
                                    size_t capacity, size_t *length, int *os_code);

/* Writes the text under the other name, for its owner alone and flushed, and gives it the real name: in the place of the
 * file that is there, or (`replace` false) only when there is none (EEXIST). Nothing stays under the other name. 0 or the
 * system's number. */
int secret_file_write(const char *own_path, const char *path, const char *text, size_t length, bool replace);

#endif
