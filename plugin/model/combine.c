/*
 * What several presentations of one note say together. See combine.h; the reasons are in docs/feature-model.md.
 */
#include "model/combine.h"

#include <stdbool.h>
#include <stddef.h>

void presentation_from_event(struct presentation *presentation, const cfoil_event *event)
{
    *presentation = (struct presentation){
        .kind = event->kind,
        .reason = event->reason,
        .reasons_possible = event->reasons_possible,
        .condition = event->condition,
        .finding_count = event->finding_count < CFOIL_FINDINGS_MAX ? event->finding_count : CFOIL_FINDINGS_MAX,
    };
    for (uint32_t i = 0; i < presentation->finding_count; i++)
        presentation->findings[i] = event->findings[i];
}

/* How much a reason asks for caution. The three that cast no doubt on the note rank alike. A refusal without a reason
 * leaves everything possible, so that it ranks above them. */
static int reason_rank(int32_t reason)
{
    switch (reason) {
    case CFOIL_REASON_HANDLING:
    case CFOIL_REASON_NOT_ENABLED:
    case CFOIL_REASON_DEVICE:
        return 1;
    case CFOIL_REASON_NOT_RECOGNISED:
        return 3;
    case CFOIL_REASON_AUTHENTICITY:
        return 4;
    case CFOIL_REASON_TAMPERING:
        return 5;
    default:
        return 2;
    }
}

/* The bit of a reason; a reason that we do not know has none. */
static uint32_t reason_bit(int32_t reason)
{
    return reason > CFOIL_REASON_NONE && reason <= CFOIL_REASON_TAMPERING ? 1u << reason : 0;
}

static uint32_t possible_of(const struct presentation *presentation)
{
    return presentation->reasons_possible != 0 ? presentation->reasons_possible : reason_bit(presentation->reason);
}

static uint32_t channels_of(const struct presentation *presentation)
{
    uint32_t channels = 0;
    for (uint32_t i = 0; i < presentation->finding_count; i++) {
        int32_t channel = presentation->findings[i].channel;
        bool known = channel >= CFOIL_CHANNEL_UNKNOWN && channel <= CFOIL_CHANNEL_TRANSPORT;
        channels |= 1u << (known ? channel : CFOIL_CHANNEL_UNKNOWN);
    }
    return channels;
}

static int32_t strength_of(const struct presentation *presentation)
{
    int32_t strength = CFOIL_STRENGTH_NONE;
    for (uint32_t i = 0; i < presentation->finding_count; i++) {
        if (presentation->findings[i].strength > strength)
            strength = presentation->findings[i].strength;
    }
    return strength;
}

/* What a device event says about the machine itself: 1 = trouble that explains a refusal, -1 = it is over, 0 = neither. */
static int trouble_of(const struct presentation *presentation)
{
    switch (presentation->condition) {
    case CFOIL_CONDITION_JAM_REACHABLE:
    case CFOIL_CONDITION_JAM_SAFE:
    case CFOIL_CONDITION_STACKER_REMOVED:
    case CFOIL_CONDITION_STACKER_FULL:
    case CFOIL_CONDITION_FAULT:
    case CFOIL_CONDITION_UNKNOWN_NOTE_STACKED:
    case CFOIL_CONDITION_LINE_NOISY:
    case CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT:
    case CFOIL_CONDITION_OUTCOME_UNKNOWN:
    case CFOIL_CONDITION_LEDGER_FAILING:
        return 1;
    case CFOIL_CONDITION_FAULT_CLEARED:
    case CFOIL_CONDITION_STACKER_IN_PLACE:
        return -1;
    default:
        return presentation->reason == CFOIL_REASON_DEVICE ? 1 : 0;
    }
}

static bool tampering_in(const struct presentation *presentation)
{
    return presentation->reason == CFOIL_REASON_TAMPERING || presentation->condition == CFOIL_CONDITION_TAMPERING;
}

/* What is known after each presentation. */
struct walk {
    bool accepted;      /* the machine's last word on the note is that it takes it */
    bool accepted_once; /* it said so at least once */
    bool stacked;       /* the note is in the cash box: later trouble is not about it */
    bool trouble;       /* the machine's last word is about itself */
    bool tampering;
    bool differing;                   /* two refusals name different reasons or channels */
    const struct presentation *first; /* refusal */
};

static void refusal_add(struct walk *walk, const struct presentation *refusal, struct combined *combined)
{
    uint32_t possible = possible_of(refusal);
    walk->trouble = walk->accepted = walk->stacked = false;
    combined->refusals++;
    combined->channels |= channels_of(refusal);
    if (strength_of(refusal) > combined->strength)
        combined->strength = strength_of(refusal);
    if (walk->first == NULL) {
        walk->first = refusal;
        combined->reason = refusal->reason;
        combined->reasons_possible = possible;
        return;
    }
    if (refusal->reason != walk->first->reason || channels_of(refusal) != channels_of(walk->first))
        walk->differing = true;
    if (reason_rank(refusal->reason) >= reason_rank(combined->reason))
        combined->reason = refusal->reason;
    /* What every refusal leaves possible; when they share nothing, none of them can be ruled out. */
    uint32_t shared = combined->reasons_possible & possible;
    combined->reasons_possible = shared != 0 ? shared : combined->reasons_possible | possible;
}

static void presentation_walk(struct walk *walk, const struct presentation *presentation, struct combined *combined)
{
    if (tampering_in(presentation))
        walk->tampering = true;
    switch (presentation->kind) {
    case CFOIL_KIND_REJECTED:
        refusal_add(walk, presentation, combined);
        break;
    case CFOIL_KIND_HELD:
    case CFOIL_KIND_STACKED:
        walk->accepted = walk->accepted_once = true;
        walk->stacked = presentation->kind == CFOIL_KIND_STACKED;
        walk->trouble = false;
        break;
    case CFOIL_KIND_RETURNED:
        /* The note is in the customer's hand again: what the machine found does not speak for the next one offered. */
        walk->accepted = walk->stacked = false;
        break;
    case CFOIL_KIND_DEVICE:
        if (!walk->stacked && trouble_of(presentation) != 0)
            walk->trouble = trouble_of(presentation) > 0;
        break;
    default:
        break;
    }
}

static enum combination combination_of(const struct walk *walk, uint32_t refusals)
{
    if (refusals == 0)
        return COMBINATION_NONE;
    if (walk->accepted)
        return COMBINATION_ACCEPTED_ON_RETRY;
    if (walk->differing || walk->accepted_once)
        return COMBINATION_DIFFERING;
    return refusals == 1 ? COMBINATION_SINGLE : COMBINATION_SAME_FINDING;
}

void presentations_combine(const struct presentation *presentations, uint32_t count, struct combined *combined)
{
    struct walk walk = {0};
    *combined = (struct combined){0};
    for (uint32_t i = 0; i < count; i++)
        presentation_walk(&walk, &presentations[i], combined);
    combined->combination = combination_of(&walk, combined->refusals);
    if (walk.trouble)
        combined->reason = CFOIL_REASON_DEVICE;
    if (walk.tampering)
        combined->reason = CFOIL_REASON_TAMPERING;
    combined->reasons_possible |= reason_bit(combined->reason);
}

const char *combination_name(enum combination combination)
{
    switch (combination) {
    case COMBINATION_NONE:
        return "none";
    case COMBINATION_SINGLE:
        return "single";
    case COMBINATION_SAME_FINDING:
        return "same_finding";
    case COMBINATION_DIFFERING:
        return "differing";
    case COMBINATION_ACCEPTED_ON_RETRY:
        return "accepted_on_retry";
    default:
        return "unknown";
    }
}
