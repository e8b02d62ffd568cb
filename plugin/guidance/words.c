/*
 * What a step says: texts of the pack, of the jurisdiction and of the message catalogue, put together in the language of
 * the case. No text of this file reaches a person: every word comes from pack data.
 */
#include "guidance/picture.h"
#include "guidance/state.h"
#include "model/error.h"
#include "model/growing.h"
#include "model/names.h"
#include "packs/pack_exchange.h"
#include "packs/phrase.h"

#include <string.h>

/* ---- A text of the step ---- */

struct words {
    const struct guidance *guidance;
    struct growing growing;
};

static struct words words_of(const struct guidance *guidance)
{
    return (struct words){guidance, {.memory = guidance->memory}};
}

static void words_add(struct words *words, const char *text)
{
    growing_text_add(&words->growing, text);
}

static const char *words_text(const struct words *words)
{
    return growing_text(&words->growing);
}

static void words_release(struct words *words)
{
    growing_release(&words->growing);
}

void guidance_texts_release(struct guidance *guidance)
{
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++) {
        memory_release(guidance->memory, guidance->texts[i]);
        guidance->texts[i] = NULL;
    }
}

/* ---- Phrases in the language of the case ---- */

static void words_phrase(struct words *words, struct pack_phrase phrase, const cfoil_argument *arguments, size_t count)
{
    phrase_add(&words->growing, phrase, arguments, count);
}

/* The message of the key "GROUP.WORD", or of GROUP alone when `word` is NULL. */
static struct pack_phrase phrase_of(const struct guidance *guidance, const char *group, const char *word)
{
    return word != NULL ? phrase_of_word(guidance->packs, guidance->language, group, word)
                        : phrase_of_key(guidance->packs, guidance->language, group);
}

static void words_message(struct words *words, const char *key)
{
    words_phrase(words, phrase_of(words->guidance, key, NULL), NULL, 0);
}

/* A text of a pack: what differs from note to note is filled in. */
static void words_pack_text(struct words *words, const char *english)
{
    const struct guidance *guidance = words->guidance;
    const struct pack_note *note = guidance->note;
    char value[32];
    pack_value_write(guidance->currency, note->value_minor, value, sizeof value);
    const cfoil_argument arguments[] = {
        {"value", value, 0}, {"length_mm", NULL, note->length_mm}, {"height_mm", NULL, note->height_mm}};
    words_phrase(words, pack_phrase_of_text(guidance->packs, guidance->language, english), arguments, 3);
}

static const char *confidence_say(const struct guidance *guidance, enum confidence confidence)
{
    return phrase_of(guidance, "confidence", confidence_word(confidence)).pattern;
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
    [PLAN_CAUSE_TOO_PLAIN] = {ADVICE_KEYS_LOCAL("ask_another"), "reason.too_plain"},
};

/* ---- Why ---- */

static void names_join(struct words *names, const char *key, const char *name)
{
    phrase_name_join(&names->growing, names->guidance->packs, names->guidance->language, key, name);
}

/* A sentence about the names, when there are any. Releases them. */
static void names_say(struct words *words, const char *group, const char *word, struct words *names)
{
    const cfoil_argument argument = {"names", words_text(names), 0};
    if (names->growing.length > 0)
        words_phrase(words, phrase_of(words->guidance, group, word), &argument, 1);
    words->growing.failed = words->growing.failed || names->growing.failed;
    words_release(names);
}

static void channels_say(struct words *words, uint32_t channels)
{
    struct words names = words_of(words->guidance);
    for (int32_t channel = CFOIL_CHANNEL_IMAGE; channel <= CFOIL_CHANNEL_TRANSPORT; channel++) {
        if ((channels & 1u << channel) != 0)
            names_join(&names, "list.and", phrase_of(words->guidance, "channel", name_channel(channel)).pattern);
    }
    names_say(words, "machine.named", NULL, &names);
}

/* Causes that are the machine's own word: what it said need not be said twice. */
static bool machine_is_cause(enum plan_cause cause)
{
    return cause >= PLAN_CAUSE_TAMPERING && cause <= PLAN_CAUSE_HANDLING_AGAIN;
}

static void machine_say(struct words *words, const struct combined *combined)
{
    const struct guidance *guidance = words->guidance;
    if (combined->refusals == 0 && combined->reason == CFOIL_REASON_NONE) {
        words_message(words, "machine.said_nothing");
        return;
    }
    words_phrase(words, phrase_of(guidance, "machine.reason", name_reason(combined->reason)), NULL, 0);
    channels_say(words, combined->channels);
    if (combined->combination >= COMBINATION_SAME_FINDING)
        words_phrase(words, phrase_of(guidance, "machine.attempts", combination_name(combined->combination)), NULL, 0);
}

/* "As it should be: watermark, thread." for the checks that were answered so. */
static void answers_say(struct words *words, int32_t answer)
{
    const struct guidance *guidance = words->guidance;
    struct words names = words_of(guidance);
    for (uint32_t i = 0; i < guidance->answered; i++) {
        const struct pack_check *check = &guidance->note->checks[guidance->order[i]];
        if (guidance->answers[guidance->order[i]] == answer)
            names_join(&names, "list.comma", pack_text(guidance->packs, guidance->language, check->feature));
    }
    names_say(words, "answers", name_answer(answer), &names);
}

static void reasons_say(struct words *words, const struct combined *combined, const struct plan *plan)
{
    if (!machine_is_cause(plan->cause))
        machine_say(words, combined);
    for (int32_t answer = CFOIL_ANSWER_AS_IT_SHOULD_BE; answer <= CFOIL_ANSWER_CANNOT_TELL; answer++)
        answers_say(words, answer);
    words_message(words, cause_table[plan->cause].reason);
}

/* ---- Where it comes from: the names of sources stay as they are ---- */

static void source_say(struct words *words, const char *source, enum confidence confidence)
{
    const cfoil_argument arguments[] = {{"source", source, 0},
                                        {"confidence", confidence_say(words->guidance, confidence), 0}};
    if (words->growing.length > 0)
        words_add(words, ";");
    words_phrase(words, phrase_of(words->guidance, "source.fact", NULL), arguments, 2);
}

/* A fact that is less sure than the one before is marked on its own. */
static void part_say(struct words *words, const char *key, enum confidence confidence)
{
    const cfoil_argument argument = {"confidence", confidence_say(words->guidance, confidence), 0};
    words_add(words, ";");
    words_phrase(words, phrase_of(words->guidance, key, NULL), &argument, 1);
}

static void check_source_say(struct words *words, const struct pack_check *check)
{
    source_say(words, check->source, check->confidence);
    if (check->tell_confidence != check->confidence)
        part_say(words, "source.tell", check->tell_confidence);
    if (check->box.known && check->box.confidence != check->confidence)
        part_say(words, "source.place", check->box.confidence);
}

/* Advice not to take a note in doubt is where the rules of the place come in. */
static bool local_rules_apply(const struct plan *plan)
{
    if (plan->cause == PLAN_CAUSE_WITHDRAWN)
        return false;
    return plan->advice == CFOIL_ADVICE_ASK_ANOTHER || plan->advice == CFOIL_ADVICE_SET_ASIDE;
}

/* The rules of the place that are shown with the advice. */
#define RULES_SHOWN_MAX 7u
static uint32_t rules_shown(const struct guidance *guidance, const struct plan *plan,
                            const struct pack_rule *shown[RULES_SHOWN_MAX])
{
    const struct pack_jurisdiction *rules = guidance->jurisdiction;
    uint32_t count = 0;
    if (plan->advice == CFOIL_ADVICE_ASK_ANOTHER) {
        shown[count++] = &rules->ask_another;
    } else {
        shown[count++] = &rules->set_aside;
        shown[count++] = &rules->tell_whom;
        shown[count++] = &rules->write_down;
        shown[count++] = &rules->deadline;
    }
    shown[count++] = &rules->never;
    shown[count++] = &rules->caution;
    return count;
}

static bool rule_said(const struct pack_rule *const shown[RULES_SHOWN_MAX], uint32_t count)
{
    const struct pack_rule *rule = shown[count];
    bool said = false;
    for (uint32_t i = 0; !said && i < count; i++)
        said = shown[i]->confidence == rule->confidence && strcmp(shown[i]->source, rule->source) == 0;
    return said;
}

static void advice_source_say(struct words *words, const struct plan *plan)
{
    const struct guidance *guidance = words->guidance;
    if (plan->cause == PLAN_CAUSE_WITHDRAWN) {
        source_say(words, guidance->note->source, guidance->note->confidence);
        return;
    }
    if (!local_rules_apply(plan)) {
        words_message(words, "source.guidance");
        return;
    }
    const struct pack_rule *shown[RULES_SHOWN_MAX];
    uint32_t count = rules_shown(guidance, plan, shown);
    for (uint32_t i = 0; i < count; i++) {
        if (!rule_said(shown, i))
            source_say(words, shown[i]->source, shown[i]->confidence);
    }
    words_add(words, ", ");
    words_add(words, guidance->jurisdiction->date);
}

/* ---- Steps ---- */

/* A rule with the words that introduce it. */
static void rule_say(struct words *words, const char *label, const struct pack_rule *rule)
{
    words_message(words, label);
    words_pack_text(words, rule->text);
}

static void instruction_say(struct words *words, const struct plan *plan)
{
    const struct pack_jurisdiction *rules = words->guidance->jurisdiction;
    const char *key = cause_table[plan->cause].instruction;
    if (plan->cause == PLAN_CAUSE_WITHDRAWN)
        words_pack_text(words, words->guidance->note->after_tender);
    else if (plan->advice == CFOIL_ADVICE_ASK_ANOTHER)
        words_pack_text(words, rules->ask_another.text);
    if (plan->advice == CFOIL_ADVICE_SET_ASIDE) {
        words_pack_text(words, rules->set_aside.text);
        rule_say(words, "rules.tell_whom", &rules->tell_whom);
        rule_say(words, "rules.write_down", &rules->write_down);
        rule_say(words, "rules.deadline", &rules->deadline);
    }
    if (key != NULL)
        words_message(words, key);
}

/* The texts in the making; nothing is kept unless all of them are whole. */
static int32_t words_finish(struct words words[GUIDANCE_TEXT_COUNT], struct guidance *guidance, cfoil_step *step,
                            cfoil_error_info *error)
{
    bool failed = false;
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++) {
        failed = failed || words[i].growing.failed;
        guidance->texts[i] = words[i].growing.text; /* the places are empty: the last step's texts are released */
    }
    if (failed) {
        guidance_texts_release(guidance);
        return error_memory_set(error, "guidance");
    }
    const char *texts[GUIDANCE_TEXT_COUNT];
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++)
        texts[i] = words_text(&words[i]);
    step->title = texts[GUIDANCE_TEXT_TITLE];
    step->instruction = texts[GUIDANCE_TEXT_INSTRUCTION];
    step->expected = texts[GUIDANCE_TEXT_EXPECTED];
    step->doubtful = texts[GUIDANCE_TEXT_DOUBTFUL];
    step->hint = texts[GUIDANCE_TEXT_HINT];
    step->say = texts[GUIDANCE_TEXT_SAY];
    step->reasons = texts[GUIDANCE_TEXT_REASONS];
    step->caution = texts[GUIDANCE_TEXT_CAUTION];
    step->source = texts[GUIDANCE_TEXT_SOURCE];
    step->where = texts[GUIDANCE_TEXT_WHERE];
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
}

/* A text about the place of a check, chosen by side, place and sense. */
static void place_say(struct words *words, const char *key, const struct pack_check *check)
{
    struct picture_place place;
    picture_place_find(check, &place);
    const cfoil_argument arguments[] = {
        {"side", place.side, 0}, {"across", place.across, 0}, {"down", place.down, 0}, {"how", place.how, 0}};
    words_phrase(words, phrase_of(words->guidance, key, NULL), arguments, 4);
}

static void check_say(struct words words[GUIDANCE_TEXT_COUNT], const struct pack_check *check,
                      const struct combined *combined)
{
    words_pack_text(&words[GUIDANCE_TEXT_TITLE], check->title);
    words_pack_text(&words[GUIDANCE_TEXT_INSTRUCTION], check->instruction);
    words_pack_text(&words[GUIDANCE_TEXT_EXPECTED], check->genuine);
    words_pack_text(&words[GUIDANCE_TEXT_DOUBTFUL], check->tell);
    words_pack_text(&words[GUIDANCE_TEXT_HINT], check->hint);
    if (combined->combination == COMBINATION_DIFFERING)
        words_message(&words[GUIDANCE_TEXT_HINT], "machine.attempts.differing");
    check_source_say(&words[GUIDANCE_TEXT_SOURCE], check);
    place_say(&words[GUIDANCE_TEXT_WHERE], "picture.where", check);
}

/* A note that feeds badly and is in order is most likely worn: where it belongs, and what a bank gives for it. */
static void worn_say(struct words *words)
{
    const struct guidance *guidance = words->guidance;
    const struct pack_exchange *exchange = pack_exchange_find(guidance->packs, guidance->currency_code);
    const struct pack_condition *worn = NULL;
    words_message(words, "advice.take_by_hand.worn");
    if (exchange != NULL)
        worn = pack_condition_find(exchange, CONDITION_SOILED, guidance->note->value_minor);
    if (worn != NULL)
        words_pack_text(words, worn->rule.text);
}

static void advice_say(struct words words[GUIDANCE_TEXT_COUNT], const struct combined *combined,
                       const struct plan *plan)
{
    words_message(&words[GUIDANCE_TEXT_TITLE], cause_table[plan->cause].title);
    words_message(&words[GUIDANCE_TEXT_SAY], cause_table[plan->cause].say);
    instruction_say(&words[GUIDANCE_TEXT_INSTRUCTION], plan);
    if (plan->cause == PLAN_CAUSE_ALL_GOOD && combined->reason == CFOIL_REASON_HANDLING)
        worn_say(&words[GUIDANCE_TEXT_INSTRUCTION]);
    reasons_say(&words[GUIDANCE_TEXT_REASONS], combined, plan);
    advice_source_say(&words[GUIDANCE_TEXT_SOURCE], plan);
}

int32_t guidance_words(struct guidance *guidance, const struct combined *combined, const struct plan *plan,
                       cfoil_step *step, cfoil_error_info *error)
{
    struct words words[GUIDANCE_TEXT_COUNT];
    for (int i = 0; i < GUIDANCE_TEXT_COUNT; i++)
        words[i] = words_of(guidance);
    step->check = "";
    if (plan->kind == CFOIL_STEP_CHECK) {
        check_fill(guidance, &guidance->note->checks[plan->check], step);
        check_say(words, &guidance->note->checks[plan->check], combined);
    } else {
        advice_say(words, combined, plan);
    }
    words_message(&words[GUIDANCE_TEXT_CAUTION], "caution");
    if (local_rules_apply(plan)) {
        words_pack_text(&words[GUIDANCE_TEXT_CAUTION], guidance->jurisdiction->never.text);
        words_pack_text(&words[GUIDANCE_TEXT_CAUTION], guidance->jurisdiction->caution.text);
    }
    return words_finish(words, guidance, step, error);
}

int32_t guidance_picture(const struct guidance *guidance, char *buffer, size_t capacity, size_t *needed,
                         cfoil_error_info *error)
{
    struct combined combined;
    struct plan plan;
    guidance_plan(guidance, &combined, &plan);
    if (plan.kind != CFOIL_STEP_CHECK)
        return error_set(error, CFOIL_E_STATE_NO_CHECK, 0, "guidance", "No check is open: there is nothing to show.");
    const struct pack_check *check = &guidance->note->checks[plan.check];
    struct words title = words_of(guidance);
    struct words side = words_of(guidance);
    struct words where = words_of(guidance);
    words_pack_text(&title, check->title);
    place_say(&side, "picture.side", check);
    place_say(&where, "picture.where", check);
    int32_t result = CFOIL_OK;
    if (title.growing.failed || side.growing.failed || where.growing.failed) {
        result = error_memory_set(error, "guidance");
    } else {
        const struct picture_words words = {words_text(&title), words_text(&side), words_text(&where)};
        size_t length = picture_write(guidance->note, check, &words, buffer, capacity);
        if (needed != NULL)
            *needed = length + 1;
        if (capacity <= length)
            result = CFOIL_E_ARGUMENT_BUFFER;
    }
    words_release(&title);
    words_release(&side);
    words_release(&where);
    return result;
}
