/*
 * A case on the real packs, and the small things that its tests do again and again.
 */
#ifndef CASE_H
#define CASE_H

#include "guidance/guidance.h"
#include "packs/pack.h"
#include "unit/model/failing.h"

#include "test.h"

#include <stdio.h>

#define BIT(code) (1u << (code))

enum { GOOD = CFOIL_ANSWER_AS_IT_SHOULD_BE, BAD = CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, UNTOLD = CFOIL_ANSWER_CANNOT_TELL };

#define CASE_ID "01890a5d-ac96-774b-bcce-b302099a8057"

static struct pack_set *case_packs;
static cfoil_error_info case_error;

static inline int case_packs_load(void **state)
{
    (void)state;
    int32_t result = pack_set_create(&memory_heap, &case_packs, &case_error);
    if (result != CFOIL_OK)
        print_error("packs: %s: %s\n", case_error.area, case_error.text);
    return result == CFOIL_OK ? 0 : -1;
}

static inline int case_packs_release(void **state)
{
    (void)state;
    pack_set_release(case_packs);
    return 0;
}

static inline cfoil_case_options case_options(int64_t value_minor)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = value_minor;
    return options;
}

static inline int32_t case_try(const cfoil_case_options *options, struct guidance **guidance)
{
    memset(&case_error, 0, sizeof case_error);
    return guidance_open(&failing_memory, case_packs, options, CASE_ID, guidance, &case_error);
}

static inline struct guidance *case_open(const cfoil_case_options *options)
{
    struct guidance *guidance = NULL;
    assert_int_equal(case_try(options, &guidance), CFOIL_OK);
    assert_non_null(guidance);
    return guidance;
}

/* A case of a 50 euro note with nothing set. */
static inline struct guidance *case_plain(void)
{
    cfoil_case_options options = case_options(5000);
    return case_open(&options);
}

static inline void case_close(struct guidance *guidance)
{
    guidance_close(guidance);
    assert_int_equal(failing_blocks, 0);
}

static inline cfoil_event case_event(int32_t kind, int32_t reason)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = kind;
    event.reason = reason;
    event.reasons_possible = reason != CFOIL_REASON_NONE ? BIT(reason) : 0;
    event.lane_state = CFOIL_LANE_ACCEPTING;
    return event;
}

static inline void case_event_add(struct guidance *guidance, int32_t kind, int32_t reason)
{
    cfoil_event event = case_event(kind, reason);
    assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_OK);
}

static inline void case_refuse(struct guidance *guidance, int32_t reason)
{
    case_event_add(guidance, CFOIL_KIND_REJECTED, reason);
}

static inline void case_refuse_on(struct guidance *guidance, int32_t channel)
{
    cfoil_event event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
    event.finding_count = 1;
    event.findings[0] = (cfoil_finding){channel, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0};
    assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_OK);
}

static inline void case_condition_add(struct guidance *guidance, int32_t condition)
{
    cfoil_event event = case_event(CFOIL_KIND_DEVICE, CFOIL_REASON_NONE);
    event.condition = condition;
    assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_OK);
}

static inline cfoil_step case_step(struct guidance *guidance)
{
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(guidance_step(guidance, &step, &case_error), CFOIL_OK);
    assert_int_equal(step.struct_size, sizeof step);
    return step;
}

/* Answers the check that is open. */
static inline void case_answer(struct guidance *guidance, int32_t answer)
{
    cfoil_step step = case_step(guidance);
    assert_int_equal(step.kind, CFOIL_STEP_CHECK);
    assert_int_equal(guidance_answer(guidance, step.check, answer, &case_error), CFOIL_OK);
}

/* Answers every check alike until there is an advice. */
static inline cfoil_step case_answer_all(struct guidance *guidance, int32_t answer)
{
    cfoil_step step = case_step(guidance);
    while (step.kind == CFOIL_STEP_CHECK) {
        case_answer(guidance, answer);
        step = case_step(guidance);
    }
    return step;
}

static inline void case_advises(struct guidance *guidance, int32_t advice)
{
    cfoil_step step = case_step(guidance);
    assert_int_equal(step.kind, CFOIL_STEP_ADVICE);
    assert_int_equal(step.advice, advice);
}

static inline int32_t case_may_end(struct guidance *guidance, int32_t disposition)
{
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = disposition;
    return guidance_disposition_check(guidance, &options, &case_error);
}

static inline int32_t case_may_override(struct guidance *guidance, const char *by, const char *why)
{
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = CFOIL_DISPOSITION_TAKEN;
    options.override_by = by;
    options.override_why = why;
    return guidance_disposition_check(guidance, &options, &case_error);
}

static inline void case_end(struct guidance *guidance, int32_t disposition)
{
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = disposition;
    assert_int_equal(guidance_disposition_check(guidance, &options, &case_error), CFOIL_OK);
    guidance_end(guidance, &options);
}

#endif
