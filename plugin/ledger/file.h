/*
 * The ledger's file before SQLite sees it: is it there, and does it belong to its owner alone?
 */
#ifndef LEDGER_FILE_H
#define LEDGER_FILE_H

#include "model/memory.h"

#include <stdbool.h>

bool file_exists(const char *path);

/* Makes an empty file that only its owner may read and write. 0 = it is there now, made by us or by another process at
 * the same moment; else the system's number. */
int file_private_make(const struct memory *memory, const char *path);

/* Makes an empty file that is not there yet, for its owner alone. 0 or the system's number. */
int file_empty_make(const char *path);

/* Gives a file its new name, on the disk too, and never in the place of another file (EEXIST). 0 or the system's
 * number. */
int file_name_move(const char *from, const char *to);

/* The same in the place of the file that has that name: at every moment it names one of the two, whole. */
int file_name_replace(const char *from, const char *to);

void file_remove(const char *path);

/* Who besides the owner has any right on the file. */
enum file_rights { FILE_RIGHTS_OWNER = 0, FILE_RIGHTS_GROUP = 1, FILE_RIGHTS_OTHERS = 2 };
enum file_rights file_rights_read(const char *path);

#endif
