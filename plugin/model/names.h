/*
 * The words of the model as text: what JSON, reports and the tool print for each code.
 */
#ifndef MODEL_NAMES_H
#define MODEL_NAMES_H

#include <stdint.h>

/* Lower-case words joined by '_', for example "not_recognised"; "unknown" for a code that has no word. */
const char *name_kind(int32_t kind);
const char *name_reason(int32_t reason);
const char *name_channel(int32_t channel);
const char *name_strength(int32_t strength);
const char *name_origin(int32_t origin);
const char *name_condition(int32_t condition);
const char *name_lane_state(int32_t state);
const char *name_accept(int32_t accept);
const char *name_sense(int32_t sense);
const char *name_answer(int32_t answer);
const char *name_advice(int32_t advice);
const char *name_disposition(int32_t disposition);
const char *name_checksum(int32_t checksum);
const char *name_maturity(int32_t maturity);

/* The code of a word, or -1. */
int32_t name_channel_find(const char *word);
int32_t name_sense_find(const char *word);
int32_t name_reason_find(const char *word);
int32_t name_disposition_find(const char *word);
int32_t name_kind_find(const char *word);
int32_t name_condition_find(const char *word);
int32_t name_advice_find(const char *word);

#endif
