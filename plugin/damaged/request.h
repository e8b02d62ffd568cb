/*
 * What was asked: a request of the schema "counterfoil.damaged/1", read strictly and looked up in the packs.
 */
#ifndef DAMAGED_REQUEST_H
#define DAMAGED_REQUEST_H

#include "damaged/measure.h"
#include "packs/pack_exchange.h"
#include "packs/reader.h"

#define REQUEST_SIZE_MAX 65536u
#define PIECES_MAX       50
#define DEFECTS_MAX      20
#define STRIPS_MAX       20

/* One fault as it was seen or measured. */
struct found_defect {
    enum defect defect;
    const char *how; /* "vertical", "printed", ... ; "" = not said */
    uint32_t gauges; /* 1u << GAUGE_* that are given */
    int64_t thousandths[GAUGE_COUNT];
};

struct damaged_request {
    const struct pack_currency *currency;
    const struct pack_note *note;
    const struct pack_exchange *exchange;
    const char *language;              /* "" = English */
    int64_t area_um2;                  /* of a whole note */
    const struct pack_area *published; /* NULL = the area is that of the currency pack's sizes */
    uint32_t conditions;               /* 1u << CONDITION_* */
    uint32_t piece_count;
    struct area pieces[PIECES_MAX];
    int64_t notes;       /* how many such notes are brought on one day, */
    int64_t total_minor; /* and their value together */
    uint32_t defect_count;
    struct found_defect defects[DEFECTS_MAX];
};

/* Fills currency, note, exchange, published and area_um2. series NULL = the newest that has the value. CFOIL_OK,
 * CFOIL_E_MISSING_PACK, CFOIL_E_MISSING_NOTE. */
int32_t damaged_note_find(const struct pack_set *packs, const char *currency, int64_t value_minor, const char *series,
                          struct damaged_request *request, cfoil_error_info *error);

/* Reads a parsed request; its texts are borrowed from the tree. CFOIL_OK, CFOIL_E_DATA_SCHEMA, CFOIL_E_MISSING_*,
 * CFOIL_E_MEMORY. */
int32_t request_read(struct reader *reader, const struct pack_set *packs, const cJSON *tree,
                     struct damaged_request *request);

#endif
