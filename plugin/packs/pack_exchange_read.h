/*
 * What the two readers of rules for damaged notes share.
 */
#ifndef PACKS_PACK_EXCHANGE_READ_H
#define PACKS_PACK_EXCHANGE_READ_H

#include "packs/pack_exchange.h"
#include "packs/reader.h"

/* Which of the words is it? -1 = none. Gaps (NULL) in the list are passed over. */
int32_t word_find(const char *const *words, size_t count, const char *word);
int32_t word_read(struct reader *reader, const cJSON *object, const char *key, const char *const *words, size_t count,
                  int32_t *found);

/* Reads one object of an array into a row of it. */
typedef int32_t (*exchange_row)(struct reader *reader, const cJSON *object, void *row);
int32_t exchange_rows_read(struct reader *reader, const cJSON *tree, const char *key, size_t size, exchange_row row,
                           void **rows, uint32_t *count);

int32_t fitness_row_read(struct reader *reader, const cJSON *object, void *target);

#endif
