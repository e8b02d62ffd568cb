/*
 * What a step says: texts of the pack, of the jurisdiction and of the message catalogue, put together.
 * No text of this file reaches a person: every word comes from pack data.
 */
#include "guidance/state.h"
#include "model/error.h"
#include "model/names.h"

#include <stdio.h>
#include <string.h>

/* ---- A text that grows ---- */

struct words {
    const struct memory *memory;
    char *text; /* NULL = nothing yet */
    size_t length;
    size_t capacity;
    bool failed;
};

static bool words_grow(struct words *words, size_t more)
{
    size_t needed = words->length + more + 1;
    if (needed <= words->capacity)
        return true;
    size_t capacity = needed + 256;
    char *text = memory_allocate(words->memory, capacity);
    if (text == NULL) {
        words->failed = true;
        return false;
    }
    if (words->text != NULL)
        memcpy(text, words->text, words->length);
    memory_release(words->memory, words->text);
    words->text = text;
    words->capacity = capacity;
    return true;
}

static void words_add(struct words *words, const char *text)
{
    size_t length = strlen(text);
    if (words->failed || !words_grow(words, length))
        return;
    memcpy(words->text + words->length, text, length + 1);
    words->length += length;
}

/* Adds a sentence, with a blank before it when it is not the first. */
static void words_sentence(struct words *words, const char *text)
{
    if (text[0] == '\0')
        return;
    if (words->length > 0)
        words_add(words, " ");
    words_add(words, text);
}

void guidance_texts_release(struct guidance *guidance)
{
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++) {
        memory_release(guidance->memory, guidance->texts[i]);
        guidance->texts[i] = NULL;
    }
}

/* ---- Catalogue ---- */

/* The catalogue keys of what each cause leads to. */
struct cause_keys {
    const char *title;
    const char *instruction; /* NULL = none */
    const char *say;
    const char *reason;
};

#define ADVICE_KEYS(advice) "advice." advice ".title", "advice." advice ".instruction", "advice." advice ".say"
/* What to do is said by the rules of the place. */
#define ADVICE_KEYS_LOCAL(advice) "advice." advice ".title", NULL, "advice." advice ".say"

static const struct cause_keys cause_table[] = {
    [PLAN_CAUSE_SERIAL_REFUSED] = {ADVICE_KEYS_LOCAL("set_aside"), "reason.serial_refused"},
    [PLAN_CAUSE_TWO_DIFFER] = {ADVICE_KEYS_LOCAL("set_aside"), "reason.two_differ"},
    [PLAN_CAUSE_ONE_DIFFERS] = {ADVICE_KEYS_LOCAL("ask_another"), "reason.one_differs"},
    [PLAN_CAUSE_TAMPERING] = {ADVICE_KEYS("call_supervisor"), "reason.tampering"},
    [PLAN_CAUSE_DEVICE] = {ADVICE_KEYS("check_machine"), "reason.device"},
    [PLAN_CAUSE_NOT_ENABLED] = {ADVICE_KEYS("check_settings"), "reason.not_enabled"},
    [PLAN_CAUSE_ACCEPTED] = {ADVICE_KEYS("take"), "reason.accepted"},
    [PLAN_CAUSE_HANDLING_FIRST] = {ADVICE_KEYS("feed_again"), "reason.handling_first"},
    [PLAN_CAUSE_HANDLING_AGAIN] = {ADVICE_KEYS("feed_turned"), "reason.handling_again"},
    [PLAN_CAUSE_ALL_GOOD] = {ADVICE_KEYS("take_by_hand"), "reason.all_good"},
    [PLAN_CAUSE_NOT_COMPLETE] = {ADVICE_KEYS_LOCAL("ask_another"), "reason.not_complete"},
    [PLAN_CAUSE_WITHDRAWN] = {ADVICE_KEYS_LOCAL("withdrawn"), "reason.withdrawn"},
    [PLAN_CAUSE_CHECK_ENDS] = {ADVICE_KEYS_LOCAL("set_aside"), "reason.check_ends"},
};

/* The text of the key "GROUP.WORD". */
static const char *message(const struct guidance *guidance, const char *group, const char *word)
{
    char key[64];
    (void)snprintf(key, sizeof key, "%s.%s", group, word);
    return pack_message(guidance->packs, "en", key);
}

/* ---- Why ---- */

static void channels_say(struct words *words, const struct guidance *guidance, uint32_t channels)
{
    const char *between = pack_message(guidance->packs, "en", "machine.named");
    for (int32_t channel = CFOIL_CHANNEL_IMAGE; channel <= CFOIL_CHANNEL_TRANSPORT; channel++) {
        if ((channels & 1u << channel) == 0)
            continue;
        words_sentence(words, between);
        words_sentence(words, message(guidance, "channel", name_channel(channel)));
        between = pack_message(guidance->packs, "en", "list.and");
    }
    if (channels > 1u << CFOIL_CHANNEL_UNKNOWN)
        words_add(words, ".");
}

/* Causes that are the machine's own word: what it said need not be said twice. */
static bool machine_is_cause(enum plan_cause cause)
{
    return cause >= PLAN_CAUSE_TAMPERING && cause <= PLAN_CAUSE_HANDLING_AGAIN;
}

static void machine_say(struct words *words, const struct guidance *guidance, const struct combined *combined)
{
    if (combined->refusals == 0 && combined->reason == CFOIL_REASON_NONE) {
        words_sentence(words, pack_message(guidance->packs, "en", "machine.said_nothing"));
        return;
    }
    words_sentence(words, message(guidance, "machine.reason", name_reason(combined->reason)));
    channels_say(words, guidance, combined->channels);
    if (combined->combination >= COMBINATION_SAME_FINDING)
        words_sentence(words, message(guidance, "machine.attempts", combination_name(combined->combination)));
}

/* "As it should be: watermark, thread." for the checks that were answered so. */
static void answers_say(struct words *words, const struct guidance *guidance, int32_t answer)
{
    const char *before = message(guidance, "answers", name_answer(answer));
    bool any = false;
    for (uint32_t i = 0; i < guidance->answered; i++) {
        if (guidance->answers[guidance->order[i]] != answer)
            continue;
        if (any)
            words_add(words, ",");
        else
            words_sentence(words, before);
        words_sentence(words, guidance->note->checks[guidance->order[i]].feature);
        any = true;
    }
    if (any)
        words_add(words, ".");
}

static void reasons_say(struct words *words, const struct guidance *guidance, const struct combined *combined,
                        const struct plan *plan)
{
    if (!machine_is_cause(plan->cause))
        machine_say(words, guidance, combined);
    for (int32_t answer = CFOIL_ANSWER_AS_IT_SHOULD_BE; answer <= CFOIL_ANSWER_CANNOT_TELL; answer++)
        answers_say(words, guidance, answer);
    words_sentence(words, pack_message(guidance->packs, "en", cause_table[plan->cause].reason));
}

/* ---- Where it comes from ---- */

static void source_say(struct words *words, const char *source, enum confidence confidence)
{
    words_sentence(words, source);
    words_add(words, " (");
    words_add(words, confidence_name(confidence));
    words_add(words, ")");
}

/* A fact that is less sure than the one before is marked on its own. */
static void part_say(struct words *words, const char *part, enum confidence confidence)
{
    words_add(words, "; ");
    words_add(words, part);
    words_add(words, " ");
    words_add(words, confidence_name(confidence));
}

static void check_source_say(struct words *words, const struct guidance *guidance, const struct pack_check *check)
{
    source_say(words, check->source, check->confidence);
    if (check->tell_confidence != check->confidence)
        part_say(words, pack_message(guidance->packs, "en", "source.tell"), check->tell_confidence);
    if (check->box.known && check->box.confidence != check->confidence)
        part_say(words, pack_message(guidance->packs, "en", "source.place"), check->box.confidence);
}

/* Advice not to take a note in doubt is where the rules of the place come in. */
static bool local_rules_apply(const struct plan *plan)
{
    if (plan->cause == PLAN_CAUSE_WITHDRAWN)
        return false;
    return plan->advice == CFOIL_ADVICE_ASK_ANOTHER || plan->advice == CFOIL_ADVICE_SET_ASIDE;
}

static void advice_source_say(struct words *words, const struct guidance *guidance, const struct plan *plan)
{
    const struct pack_jurisdiction *rules = guidance->jurisdiction;
    if (plan->cause == PLAN_CAUSE_WITHDRAWN) {
        source_say(words, guidance->note->source, guidance->note->confidence);
        return;
    }
    if (!local_rules_apply(plan)) {
        words_sentence(words, pack_message(guidance->packs, "en", "source.guidance"));
        return;
    }
    source_say(words, rules->source, rules->confidence);
    words_add(words, ", ");
    words_add(words, rules->date);
}

/* ---- Steps ---- */

static void instruction_say(struct words *words, const struct guidance *guidance, const struct plan *plan)
{
    const struct pack_jurisdiction *rules = guidance->jurisdiction;
    const char *key = cause_table[plan->cause].instruction;
    if (plan->cause == PLAN_CAUSE_WITHDRAWN)
        words_sentence(words, guidance->note->after_tender);
    else if (plan->advice == CFOIL_ADVICE_ASK_ANOTHER)
        words_sentence(words, rules->ask_another.text);
    if (plan->advice == CFOIL_ADVICE_SET_ASIDE) {
        words_sentence(words, rules->set_aside.text);
        words_sentence(words, pack_message(guidance->packs, "en", "rules.tell_whom"));
        words_sentence(words, rules->tell_whom.text);
        words_sentence(words, pack_message(guidance->packs, "en", "rules.write_down"));
        words_sentence(words, rules->write_down.text);
    }
    if (key != NULL)
        words_sentence(words, pack_message(guidance->packs, "en", key));
}

/* Five texts in the making; nothing is kept unless all of them are whole. */
static int32_t words_finish(struct words words[GUIDANCE_TEXT_COUNT], struct guidance *guidance, cfoil_step *step,
                            cfoil_error_info *error)
{
    bool failed = false;
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++) {
        failed = failed || words[i].failed;
        guidance->texts[i] = words[i].text; /* the places are empty: the last step's texts are released */
    }
    if (failed) {
        guidance_texts_release(guidance);
        return error_memory_set(error, "guidance");
    }
    const char *texts[GUIDANCE_TEXT_COUNT];
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++)
        texts[i] = guidance->texts[i] != NULL ? guidance->texts[i] : "";
    step->instruction = texts[GUIDANCE_TEXT_INSTRUCTION];
    step->hint = texts[GUIDANCE_TEXT_HINT];
    step->reasons = texts[GUIDANCE_TEXT_REASONS];
    step->caution = texts[GUIDANCE_TEXT_CAUTION];
    step->source = texts[GUIDANCE_TEXT_SOURCE];
    return CFOIL_OK;
}

static void check_fill(const struct guidance *guidance, const struct pack_check *check, cfoil_step *step)
{
    step->sense = check->sense;
    step->side = check->side;
    step->number = guidance->answered + 1;
    step->number_max = guidance->check_limit;
    if (check->box.known) {
        step->box_known = 1;
        step->left_permille = check->box.left_permille;
        step->top_permille = check->box.top_permille;
        step->right_permille = check->box.right_permille;
        step->bottom_permille = check->box.bottom_permille;
    }
    step->check = check->id;
    step->title = check->title;
    step->expected = check->genuine;
    step->doubtful = check->tell;
    step->say = "";
}

static void advice_fill(const struct guidance *guidance, const struct plan *plan, cfoil_step *step)
{
    step->check = step->expected = step->doubtful = "";
    step->title = pack_message(guidance->packs, "en", cause_table[plan->cause].title);
    step->say = pack_message(guidance->packs, "en", cause_table[plan->cause].say);
}

int32_t guidance_words(struct guidance *guidance, const struct combined *combined, const struct plan *plan,
                       cfoil_step *step, cfoil_error_info *error)
{
    struct words words[GUIDANCE_TEXT_COUNT];
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++)
        words[i] = (struct words){.memory = guidance->memory};
    if (plan->kind == CFOIL_STEP_CHECK) {
        const struct pack_check *check = &guidance->note->checks[plan->check];
        check_fill(guidance, check, step);
        words_sentence(&words[GUIDANCE_TEXT_INSTRUCTION], check->instruction);
        words_sentence(&words[GUIDANCE_TEXT_HINT], check->hint);
        if (combined->combination == COMBINATION_DIFFERING)
            words_sentence(&words[GUIDANCE_TEXT_HINT],
                           pack_message(guidance->packs, "en", "machine.attempts.differing"));
        check_source_say(&words[GUIDANCE_TEXT_SOURCE], guidance, check);
    } else {
        advice_fill(guidance, plan, step);
        instruction_say(&words[GUIDANCE_TEXT_INSTRUCTION], guidance, plan);
        reasons_say(&words[GUIDANCE_TEXT_REASONS], guidance, combined, plan);
        advice_source_say(&words[GUIDANCE_TEXT_SOURCE], guidance, plan);
    }
    words_sentence(&words[GUIDANCE_TEXT_CAUTION], pack_message(guidance->packs, "en", "caution"));
    if (local_rules_apply(plan)) {
        words_sentence(&words[GUIDANCE_TEXT_CAUTION], guidance->jurisdiction->never.text);
        words_sentence(&words[GUIDANCE_TEXT_CAUTION], guidance->jurisdiction->caution.text);
    }
    return words_finish(words, guidance, step, error);
}
