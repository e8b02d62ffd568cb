/*
 * What one case knows. Shared by the files of this folder only.
 */
#ifndef GUIDANCE_STATE_H
#define GUIDANCE_STATE_H

#include "guidance/evidence.h"
#include "guidance/guidance.h"
#include "guidance/plan.h"

#define GUIDANCE_LANE_MAX     32
#define GUIDANCE_SALE_MAX     64
#define GUIDANCE_STAFF_MAX    32
#define GUIDANCE_ENVELOPE_MAX 32
#define GUIDANCE_BY_MAX       32
#define GUIDANCE_WHY_MAX      200
#define GUIDANCE_LANGUAGE_MAX 16

/* Texts of a step that are put together here; they live until the next call. */
enum guidance_text {
    GUIDANCE_TEXT_INSTRUCTION = 0,
    GUIDANCE_TEXT_HINT = 1,
    GUIDANCE_TEXT_REASONS = 2,
    GUIDANCE_TEXT_CAUTION = 3,
    GUIDANCE_TEXT_SOURCE = 4,
    GUIDANCE_TEXT_TITLE = 5,
    GUIDANCE_TEXT_EXPECTED = 6,
    GUIDANCE_TEXT_DOUBTFUL = 7,
    GUIDANCE_TEXT_SAY = 8,
    GUIDANCE_TEXT_WHERE = 9,
    GUIDANCE_TEXT_COUNT = 10
};

/* How the case ended. */
struct guidance_ending {
    int32_t disposition; /* CFOIL_DISPOSITION_NONE while open */
    char envelope[GUIDANCE_ENVELOPE_MAX + 1];
    char override_by[GUIDANCE_BY_MAX + 1];
    char override_why[GUIDANCE_WHY_MAX + 1];
};

/* The host's monotonic clock, as it was told; all 0 when it was not. */
struct guidance_clock {
    int64_t opened_ms;
    int64_t now_ms;
    int64_t shown_ms; /* since when the check `shown` is open */
    uint32_t shown;   /* number of a check + 1, 0 = none */
    bool told;
};

struct guidance {
    const struct memory *memory;
    struct pack_set *packs;
    const struct pack_currency *currency;
    const struct pack_note *note;
    const struct pack_jurisdiction *jurisdiction;
    char case_id[40];
    char language[GUIDANCE_LANGUAGE_MAX + 1];
    char currency_code[4];
    char lane[GUIDANCE_LANE_MAX + 1];
    char sale[GUIDANCE_SALE_MAX + 1];
    char staff[GUIDANCE_STAFF_MAX + 1];
    uint32_t tools;
    uint32_t without;
    uint32_t check_limit;
    uint32_t seconds_limit;
    bool withdrawn; /* today is after the note's last day as money in shops */
    struct evidence_basis basis;
    struct guidance_clock clock;

    cfoil_event *events; /* what the machine said, in order */
    uint32_t event_count;
    uint32_t event_capacity;
    struct presentation *presentations; /* the same, reduced to what counts; event_capacity places */

    int32_t *answers;   /* one for each check of the note, 0 = none */
    uint32_t *order;    /* numbers of the answered checks */
    int64_t *answer_ms; /* of each check of the note: from being shown to being answered, -1 = not known */
    uint32_t answered;

    cfoil_serial serial; /* normalised "" = none */
    bool serial_refused;
    struct guidance_ending ending;
    char *texts[GUIDANCE_TEXT_COUNT];
};

/* Everything that the plan and the evidence are worked out from. */
struct plan_input guidance_input(const struct guidance *guidance, const struct combined *combined);

/* The present plan and what the machine said together. */
void guidance_plan(const struct guidance *guidance, struct combined *combined, struct plan *plan);

/* How the evidence stands, as JSON under "working". NULL object or no memory = false. */
bool working_add(cJSON *object, const struct guidance *guidance, const struct combined *combined,
                 const struct plan *plan);

/* Puts the step into words. CFOIL_OK or CFOIL_E_MEMORY. */
int32_t guidance_words(struct guidance *guidance, const struct combined *combined, const struct plan *plan,
                       cfoil_step *step, cfoil_error_info *error);

/* Frees the texts of the last step. */
void guidance_texts_release(struct guidance *guidance);

/* What the options of a disposition make of the case. */
void guidance_ending_set(struct guidance_ending *ending, const cfoil_disposition_options *options);

#endif
