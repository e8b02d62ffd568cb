/*
 * The packs that are compiled in: the bytes of each *.json file of this folder, and what tells one from another without
 * reading them.
 */
#ifndef PACKS_BUILTIN_H
#define PACKS_BUILTIN_H

#include <stddef.h>

struct builtin_pack {
    const char *name; /* file name */
    const char *schema;
    const char *id;
    const char *language; /* of messages, else "" */
    const char *text;     /* ends with a zero byte that `length` does not count */
    size_t length;
};

extern const struct builtin_pack builtin_packs[];
extern const size_t builtin_pack_count;

#endif
