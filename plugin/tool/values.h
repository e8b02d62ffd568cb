/*
 * Strict reading of what people type: whole numbers, days, amounts, tools. No floating point, no locale.
 */
#ifndef TOOL_VALUES_H
#define TOOL_VALUES_H

#include <stdbool.h>
#include <stdint.h>

#define DAY_MS 86400000

/* Digits only. */
bool whole_parse(const char *text, int64_t least, int64_t most, int64_t *value);

/* YYYY-MM-DD from 1970-01-01 on, as the first millisecond of that day in UTC. */
bool day_parse(const char *text, int64_t *utc_ms);

/* Decimal places of the currency's minor unit. */
int currency_decimals(const char *currency);

/* "1,000": a thousand to some, one to others. */
bool amount_grouped(const char *text);

/* "50", "50.00" or "50,00" in major units; above zero, with no more decimals than the currency has, and nothing that
 * amount_grouped() finds. */
bool amount_parse(const char *text, const char *currency, int64_t *value_minor);

/* "magnifier,uv" as a mask of CFOIL_TOOL_*. */
bool tools_parse(const char *text, uint32_t *tools);

#endif
