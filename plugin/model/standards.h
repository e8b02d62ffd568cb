/*
 * Our outcomes in the words of the open standards; what a protocol cannot know stays unset (0 or NULL).
 */
#ifndef MODEL_STANDARDS_H
#define MODEL_STANDARDS_H

#include <cjson/cJSON.h>
#include <stdint.h>

struct presentation;

struct standard_terms {
    int32_t xfs_refuse_reason;         /* CEN XFS CIM input refuse reason, 0 = unset */
    const char *xfs4iot_refuse_reason; /* XFS4IoT name of the same, NULL = unset */
    int32_t xfs_level;                 /* note level 1..4, 0 = unset */
    const char *xfs4iot_item_class;    /* NULL = unset */
    const char *ecb_category;          /* ECB/2010/14 Annex IIa category "1", "2", "3", "4a", "4b"; NULL = unset */
    const char *iso20022_note_type;    /* ATMNoteTypeCode, NULL = unset */
    const char *unifiedpos;            /* UnifiedPOS constant or event, NULL = none */
};

void standard_terms_find(const struct presentation *presentation, struct standard_terms *terms);

/* A new JSON object with null for what is unset; NULL = no memory. */
cJSON *standard_terms_json(const struct standard_terms *terms);

#endif
