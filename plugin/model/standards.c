/*
 * Our outcomes in the words of the open standards, as one table with its source beside each row. See standards.h.
 *
 * Sources, with the trust our own reading of them has:
 *  XFS   CEN CWA 16926-15, CIM, input refuse reasons (read in two texts); levels of note classification (one text)
 *  IOT   CEN XFS4IoT, cash acceptor and storage terms (read in two texts)
 *  ECB   Decision ECB/2010/14, Annex IIa, Table 1, as amended by (EU) 2019/2195 (category 1 two texts, 2 one text)
 *  ISO   ISO 20022 code set ATMNoteTypeCode (one text)
 *  UPOS  UnifiedPOS 1.14.1, Bill Acceptor (read in two texts)
 * Which of our outcomes is which of theirs is our own proposal. A refusal never becomes level 2 or 3, nor any of the
 * item classes that stand for a finding about authenticity: no link to a note validator carries one.
 */
#include "model/standards.h"

#include "model/combine.h"
#include "model/json.h"

#include <stdbool.h>
#include <stddef.h>

enum { ANY = -1 };

/* How sure the device is of the reason. */
enum certainty {
    CERTAINTY_ANY = 0,
    CERTAINTY_SOLE = 1,        /* nothing but this reason is possible */
    CERTAINTY_FEATURE_OUT = 2, /* and it names an authentication feature as clearly out of tolerance */
};

struct row {
    int32_t kind;      /* CFOIL_KIND_* */
    int32_t reason;    /* CFOIL_REASON_* or ANY */
    int32_t condition; /* CFOIL_CONDITION_* or ANY */
    enum certainty certainty;
    struct standard_terms terms;
};

/* The first row that fits counts. */
static const struct row rows[] = {
    /* XFS: item of level 4 counted. Whether it is fit is not told: ECB 4a or 4b and IOT fit or unfit stay unset.
     * ISO FITU: "fit and unfit, fitness not determinable". UPOS: DataEvent, with the count in DepositCounts. */
    {CFOIL_KIND_STACKED,
     ANY,
     ANY,
     CERTAINTY_ANY,
     {.xfs_level = 4, .iso20022_note_type = "FITU", .unifiedpos = "DataEvent"}},

    /* Box full. XFS refuse reason 1 CASHINUNITFULL; UPOS BACC_STATUS_FULL = 21. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_DEVICE,
     CFOIL_CONDITION_STACKER_FULL,
     CERTAINTY_ANY,
     {.xfs_refuse_reason = 1, .xfs4iot_refuse_reason = "cashInUnitFull", .unifiedpos = "BACC_STATUS_FULL"}},
    {CFOIL_KIND_DEVICE,
     ANY,
     CFOIL_CONDITION_STACKER_FULL,
     CERTAINTY_ANY,
     {.xfs_refuse_reason = 1, .xfs4iot_refuse_reason = "cashInUnitFull", .unifiedpos = "BACC_STATUS_FULL"}},

    /* Jam. XFS: transport inoperative, which is a state and no refuse reason; UPOS BACC_STATUS_JAM = 31. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_DEVICE,
     CFOIL_CONDITION_JAM_REACHABLE,
     CERTAINTY_ANY,
     {.unifiedpos = "BACC_STATUS_JAM"}},
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_DEVICE,
     CFOIL_CONDITION_JAM_SAFE,
     CERTAINTY_ANY,
     {.unifiedpos = "BACC_STATUS_JAM"}},
    {CFOIL_KIND_DEVICE, ANY, CFOIL_CONDITION_JAM_REACHABLE, CERTAINTY_ANY, {.unifiedpos = "BACC_STATUS_JAM"}},
    {CFOIL_KIND_DEVICE, ANY, CFOIL_CONDITION_JAM_SAFE, CERTAINTY_ANY, {.unifiedpos = "BACC_STATUS_JAM"}},

    /* Mechanical or sensor fault. XFS: device state hardware error, no refuse reason; UPOS common error "failure"
     * (from memory). */
    {CFOIL_KIND_REJECTED, CFOIL_REASON_DEVICE, CFOIL_CONDITION_FAULT, CERTAINTY_ANY, {.unifiedpos = "E_FAILURE"}},
    {CFOIL_KIND_DEVICE, ANY, CFOIL_CONDITION_FAULT, CERTAINTY_ANY, {.unifiedpos = "E_FAILURE"}},

    /* A note of unknown value went to the box. XFS level 1 and IOT class "unrecognized"; ISO UNRG; UPOS: the counts
     * carry the discrepancy flag, CapDiscrepancy. */
    {CFOIL_KIND_DEVICE,
     ANY,
     CFOIL_CONDITION_UNKNOWN_NOTE_STACKED,
     CERTAINTY_ANY,
     {.xfs_level = 1,
      .xfs4iot_item_class = "unrecognized",
      .iso20022_note_type = "UNRG",
      .unifiedpos = "CapDiscrepancy"}},

    /* A feature clearly out of tolerance, and nothing else possible. XFS refuse reason 2 INVALIDBILL. ECB category 2:
     * image and format recognised, a feature missing or clearly out of tolerance. The XFS level for that is worded as
     * a finding that a machine cannot make: it stays unset. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_AUTHENTICITY,
     ANY,
     CERTAINTY_FEATURE_OUT,
     {.xfs_refuse_reason = 2, .xfs4iot_refuse_reason = "invalidBill", .ecb_category = "2"}},
    /* Failed validation. XFS refuse reason 2 INVALIDBILL: read, but not acceptable. ECB 2 and 3 cannot be told apart. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_AUTHENTICITY,
     ANY,
     CERTAINTY_ANY,
     {.xfs_refuse_reason = 2, .xfs4iot_refuse_reason = "invalidBill"}},

    /* Not recognised, and nothing else possible. XFS refuse reason 2, level 1; IOT "unrecognized"; ECB category 1: not
     * recognised as a banknote; ISO UNRG. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_NOT_RECOGNISED,
     ANY,
     CERTAINTY_SOLE,
     {.xfs_refuse_reason = 2,
      .xfs4iot_refuse_reason = "invalidBill",
      .xfs_level = 1,
      .xfs4iot_item_class = "unrecognized",
      .ecb_category = "1",
      .iso20022_note_type = "UNRG"}},
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_NOT_RECOGNISED,
     ANY,
     CERTAINTY_ANY,
     {.xfs_refuse_reason = 2, .xfs4iot_refuse_reason = "invalidBill"}},

    /* Feeding and transport. XFS refuse reason 4 DEPOSITFAILURE, "such as a mis-pick"; ECB category 1 names feeding and
     * transport errors, so that it stands when nothing else is possible. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_HANDLING,
     ANY,
     CERTAINTY_SOLE,
     {.xfs_refuse_reason = 4, .xfs4iot_refuse_reason = "depositFailure", .ecb_category = "1"}},
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_HANDLING,
     ANY,
     CERTAINTY_ANY,
     {.xfs_refuse_reason = 4, .xfs4iot_refuse_reason = "depositFailure"}},

    /* Type switched off by the host. XFS refuse reason 2 INVALIDBILL; says nothing about the note itself. */
    {CFOIL_KIND_REJECTED,
     CFOIL_REASON_NOT_ENABLED,
     ANY,
     CERTAINTY_ANY,
     {.xfs_refuse_reason = 2, .xfs4iot_refuse_reason = "invalidBill"}},

    /* Without a row: held and returned notes and suspected tampering, which XFS reports as states of the device and
     * not as refuse reasons, and which UPOS has no term for. */
};

/* The authentication features a machine senses. Image, format, thickness and transport are not among them: ECB category
 * 2 asks that image and format were recognised. */
#define FEATURE_CHANNELS                                                                                               \
    (1u << CFOIL_CHANNEL_ULTRAVIOLET | 1u << CFOIL_CHANNEL_INFRARED | 1u << CFOIL_CHANNEL_MAGNETIC |                   \
     1u << CFOIL_CHANNEL_THREAD)

static bool feature_clearly_out(const struct presentation *presentation)
{
    bool strong = false;
    for (uint32_t i = 0; i < presentation->finding_count && i < CFOIL_FINDINGS_MAX; i++) {
        const cfoil_finding *finding = &presentation->findings[i];
        bool feature = finding->channel >= CFOIL_CHANNEL_UNKNOWN && finding->channel <= CFOIL_CHANNEL_TRANSPORT &&
                       (FEATURE_CHANNELS & 1u << finding->channel) != 0;
        if (!feature || finding->origin != CFOIL_ORIGIN_DEVICE)
            return false;
        strong = strong || finding->strength == CFOIL_STRENGTH_STRONG;
    }
    return strong;
}

static bool certainty_fits(enum certainty certainty, const struct presentation *presentation)
{
    if (certainty == CERTAINTY_ANY)
        return true;
    /* The rows that ask for certainty name a known reason, so that the shift is in range. */
    if (presentation->reasons_possible != 1u << presentation->reason)
        return false;
    return certainty == CERTAINTY_SOLE || feature_clearly_out(presentation);
}

static bool row_fits(const struct row *row, const struct presentation *presentation)
{
    return row->kind == presentation->kind && (row->reason == ANY || row->reason == presentation->reason) &&
           (row->condition == ANY || row->condition == presentation->condition) &&
           certainty_fits(row->certainty, presentation);
}

void standard_terms_find(const struct presentation *presentation, struct standard_terms *terms)
{
    *terms = (struct standard_terms){0};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (row_fits(&rows[i], presentation)) {
            *terms = rows[i].terms;
            return;
        }
    }
}

static bool number_add(cJSON *object, const char *key, int32_t value)
{
    return value != 0 ? json_integer_add(object, key, value) : json_null_add(object, key);
}

cJSON *standard_terms_json(const struct standard_terms *terms)
{
    cJSON *object = cJSON_CreateObject();
    bool good = number_add(object, "xfs_refuse_reason", terms->xfs_refuse_reason) &&
                json_text_add(object, "xfs4iot_refuse_reason", terms->xfs4iot_refuse_reason) &&
                number_add(object, "xfs_level", terms->xfs_level) &&
                json_text_add(object, "xfs4iot_item_class", terms->xfs4iot_item_class) &&
                json_text_add(object, "ecb_category", terms->ecb_category) &&
                json_text_add(object, "iso20022_note_type", terms->iso20022_note_type) &&
                json_text_add(object, "unifiedpos", terms->unifiedpos);
    if (good)
        return object;
    cJSON_Delete(object);
    return NULL;
}
