/*
 * How a case may end: a refused note cannot be taken, and against the advice only with a name and a reason.
 */
#include "guidance/state.h"
#include "model/error.h"
#include "model/text.h"

static const char area[] = "guidance";

static bool given(const char *text)
{
    return text != NULL && text[0] != '\0';
}

static int32_t texts_check(const cfoil_disposition_options *options, cfoil_error_info *error)
{
    if (given(options->envelope) && !text_acceptable(options->envelope, 1, GUIDANCE_ENVELOPE_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give an envelope number of at most 32 bytes.");
    if (given(options->envelope) && options->disposition != CFOIL_DISPOSITION_SET_ASIDE)
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give an envelope number with SET_ASIDE only.");
    if (given(options->override_by) != given(options->override_why))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Say both who overrides the advice and why.");
    if (!given(options->override_by))
        return CFOIL_OK;
    if (options->disposition != CFOIL_DISPOSITION_TAKEN)
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give an override with TAKEN only.");
    if (!text_acceptable(options->override_by, 1, GUIDANCE_BY_MAX) ||
        !text_acceptable(options->override_why, 1, GUIDANCE_WHY_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area,
                         "Give who overrides (32 bytes) and why (200) as UTF-8 without control characters.");
    return CFOIL_OK;
}

static bool refused(int32_t disposition)
{
    return disposition == CFOIL_DISPOSITION_NOT_TAKEN || disposition == CFOIL_DISPOSITION_SET_ASIDE;
}

static int32_t open_check(const struct guidance *guidance, int32_t wanted, cfoil_error_info *error)
{
    if (guidance->ending.disposition == CFOIL_DISPOSITION_NONE)
        return CFOIL_OK;
    if (wanted == CFOIL_DISPOSITION_TAKEN && refused(guidance->ending.disposition))
        return error_set(error, CFOIL_E_RULE_REFUSED, 0, area, "The note was refused: it cannot be taken any more.");
    return error_set(error, CFOIL_E_STATE_CASE_ENDED, 0, area, "The case has ended: open a new one.");
}

static int32_t taken_check(const struct guidance *guidance, const struct plan *plan,
                           const cfoil_disposition_options *options, cfoil_error_info *error)
{
    if (guidance->serial_refused)
        return error_set(error, CFOIL_E_RULE_REFUSED, 0, area,
                         "A note with this serial number was refused: do not take it.");
    if (plan->advice == CFOIL_ADVICE_TAKE || given(options->override_by))
        return CFOIL_OK;
    return error_set(error, CFOIL_E_RULE_ADVICE, 0, area,
                     "Finish the checks and follow the advice, or name who overrides it and why.");
}

int32_t guidance_disposition_check(const struct guidance *guidance, const cfoil_disposition_options *options,
                                   cfoil_error_info *error)
{
    if (options->disposition < CFOIL_DISPOSITION_TAKEN || options->disposition > CFOIL_DISPOSITION_ABANDONED)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give one of CFOIL_DISPOSITION_*.");
    int32_t result = texts_check(options, error);
    if (result == CFOIL_OK)
        result = open_check(guidance, options->disposition, error);
    if (result != CFOIL_OK)
        return result;
    struct combined combined;
    struct plan plan;
    guidance_plan(guidance, &combined, &plan);
    if (options->disposition == CFOIL_DISPOSITION_TAKEN)
        return taken_check(guidance, &plan, options, error);
    if ((plan_dispositions(&plan, guidance->jurisdiction) & 1u << options->disposition) == 0)
        return error_set(error, CFOIL_E_RULE_DISPOSITION, 0, area,
                         "This is not offered now: choose one of cfoil_step.dispositions.");
    return CFOIL_OK;
}

void guidance_ending_set(struct guidance_ending *ending, const cfoil_disposition_options *options)
{
    *ending = (struct guidance_ending){.disposition = options->disposition};
    text_copy(ending->envelope, sizeof ending->envelope, options->envelope);
    text_copy(ending->override_by, sizeof ending->override_by, options->override_by);
    text_copy(ending->override_why, sizeof ending->override_why, options->override_why);
}

void guidance_end(struct guidance *guidance, const cfoil_disposition_options *options)
{
    guidance_texts_release(guidance);
    guidance_ending_set(&guidance->ending, options);
}
