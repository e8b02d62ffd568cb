/*
 * The keys that every kind of pack has.
 */
#ifndef PACKS_FIELDS_H
#define PACKS_FIELDS_H

#include "packs/reader.h"

#define FIELDS_OF_EVERY_PACK                                                                                           \
    {"schema", FIELD_TEXT, true, 1, TEXT_ID_MAX}, {"id", FIELD_TEXT, true, 1, TEXT_ID_MAX},                            \
        {"version", FIELD_TEXT, true, 1, TEXT_ID_MAX},                                                                 \
    {                                                                                                                  \
        "reviewed", FIELD_TEXT, true, 10, 10                                                                           \
    }

#define FIELD_COUNT(fields) (sizeof(fields) / sizeof((fields)[0]))

/* Until when a series or a note is money in shops, and what a holder can do afterwards. */
#define FIELDS_OF_TENDER                                                                                               \
    {"tender_until", FIELD_TEXT, false, 10, 10},                                                                       \
    {                                                                                                                  \
        "after_tender", FIELD_TEXT, false, 1, TEXT_LONG_MAX                                                            \
    }

/* Sources of a fact and how far it can be trusted. */
#define FIELDS_OF_A_FACT                                                                                               \
    {"source", FIELD_ARRAY, true, 1, 12},                                                                              \
    {                                                                                                                  \
        "confidence", FIELD_TEXT, true, 1, TEXT_ID_MAX                                                                 \
    }

#endif
