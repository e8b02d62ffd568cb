/*
 * How do messages and texts of packs become part of a longer text in one language?
 */
#ifndef PACKS_PHRASE_H
#define PACKS_PHRASE_H

#include "model/growing.h"
#include "packs/pack.h"

/* Adds a sentence, with a blank before it when it is not the first. An empty one adds nothing. */
void phrase_add(struct growing *growing, struct pack_phrase phrase, const cfoil_argument *arguments, size_t count);

/* The message of a key; "" for a key that only a catalogue which lost it at run time has not. */
struct pack_phrase phrase_of_key(const struct pack_set *packs, const char *language, const char *key);

/* The message of the key "GROUP.WORD". */
struct pack_phrase phrase_of_word(const struct pack_set *packs, const char *language, const char *group,
                                  const char *word);

/* Joins one more name to a list, in the way that the message of the key says. */
void phrase_name_join(struct growing *names, const struct pack_set *packs, const char *language, const char *key,
                      const char *name);

#endif
