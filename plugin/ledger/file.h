/*
 * The ledger's file before SQLite sees it: is it there, and does it belong to its owner alone?
 */
#ifndef LEDGER_FILE_H
#define LEDGER_FILE_H

#include "model/memory.h"

#include <stdbool.h>

bool file_exists(const char *path);

/* Makes an empty file that only its owner may read and write. 0 = it is there now, made by us or by another process at
 * the same moment, or this file system knows no such rights and SQLite shall make the file; else the system's number. */
int file_private_make(const struct memory *memory, const char *path);

#endif
