/* Which answers are damaged, and how? The same seed gives the same faults on every machine. */
#include "fault.h"

#include <string.h>

bool fault_add(struct faults *faults, const struct fault *fault)
{
    if (faults->count == FAULTS_MOST)
        return false;
    faults->fault[faults->count++] = *fault;
    return true;
}

/* A small linear congruential generator. */
static unsigned long fault_random(struct fault *fault, unsigned long below)
{
    fault->random = (fault->random * 1103515245UL + 12345UL) & 0x7FFFFFFFUL;
    return (fault->random >> 8) % below;
}

bool fault_strikes(struct fault *fault, long command)
{
    if (fault->command >= 0 && fault->command != command)
        return false;
    fault->matched++;
    if (fault->times > 0 && fault->used >= fault->times)
        return false;
    if (fault->every > 0 && fault->matched % fault->every != 0)
        return false;
    if (fault->reply > 0 && fault->matched != fault->reply)
        return false;
    if (fault->chance > 0 && fault_random(fault, 100) >= (unsigned long)fault->chance)
        return false;
    fault->used++;
    return true;
}

bool outgoing_worth(const struct outgoing *out)
{
    return out->length > out->start + 1;
}

/* A position inside the answer itself, from `least` on. */
static size_t fault_position(struct fault *fault, const struct outgoing *out, size_t least)
{
    size_t length = out->length - out->start;
    if (length <= least)
        least = length - 1;
    size_t position = fault->byte >= 0 ? (size_t)fault->byte : least + fault_random(fault, length - least);
    if (position >= length)
        position = length - 1;
    return out->start + position;
}

static void outgoing_insert(struct outgoing *out, size_t position, const uint16_t *units, size_t count)
{
    if (count > OUTGOING_UNITS - out->length)
        return;
    memmove(out->units + position + count, out->units + position, (out->length - position) * sizeof *units);
    memcpy(out->units + position, units, count * sizeof *units);
    out->length += count;
}

void outgoing_lead(struct outgoing *out, const uint16_t *units, size_t count)
{
    size_t before = out->length;
    outgoing_insert(out, 0, units, count);
    out->start += out->length - before;
    if (out->split > 0)
        out->split += out->length - before;
}

void outgoing_lead_bytes(struct outgoing *out, const uint8_t *bytes, size_t count)
{
    uint16_t units[OUTGOING_UNITS];
    for (size_t i = 0; i < count; i++)
        units[i] = bytes[i];
    outgoing_lead(out, units, count);
}

static void outgoing_remove(struct outgoing *out, size_t position)
{
    memmove(out->units + position, out->units + position + 1, (out->length - position - 1) * sizeof out->units[0]);
    out->length--;
}

static void garbage_lead(struct fault *fault, struct outgoing *out)
{
    uint16_t units[64];
    for (long i = 0; i < fault->value; i++)
        units[i] = (uint16_t)fault_random(fault, 256);
    outgoing_lead(out, units, (size_t)fault->value);
}

void fault_apply(struct fault *fault, struct outgoing *out)
{
    enum effect effect = fault->kind->effect;
    bool shifts = effect == EFFECT_CUT || effect == EFFECT_PAUSE; /* some unit must come first */
    size_t position = fault_position(fault, out, shifts ? 1 : 0);
    out->intact = false;
    switch (effect) {
    case EFFECT_LOST:
        outgoing_remove(out, position);
        break;
    case EFFECT_DOUBLED:
        outgoing_insert(out, position, &(uint16_t){out->units[position]}, 1);
        break;
    case EFFECT_FLIP:
        out->units[position] ^= (uint16_t)(1U << fault_random(fault, out->bits));
        break;
    case EFFECT_CUT:
        out->length = position;
        break;
    case EFFECT_LATE:
        out->delay_ms += fault->value;
        break;
    case EFFECT_PAUSE:
        out->split = position;
        out->pause_ms = fault->value;
        break;
    case EFFECT_GARBAGE:
        garbage_lead(fault, out);
        break;
    case EFFECT_SILENCE:
        out->mute = true;
        break;
    case EFFECT_OWN:
        break;
    }
}

/* One "every 7"-like condition of a fault; *known is false if the next word begins none. */
static bool condition_read(struct words *words, bool (*on_read)(struct words *, struct fault *), struct fault *fault,
                           bool *known)
{
    *known = true;
    if (words_skip(words, "on"))
        return on_read(words, fault);
    if (words_skip(words, "every"))
        return words_number(words, "every", 1, 1000000, &fault->every);
    if (words_skip(words, "reply"))
        return words_number(words, "the reply number", 1, 1000000, &fault->reply);
    if (words_skip(words, "chance"))
        return words_number(words, "the chance in percent", 1, 100, &fault->chance);
    if (words_skip(words, "times"))
        return words_number(words, "times", 1, 1000000, &fault->times);
    if (words_skip(words, "byte"))
        return words_number(words, "the byte position", 0, 256, &fault->byte);
    if (words_skip(words, "seed")) {
        long seed = 0;
        bool good = words_number(words, "the seed", 1, 1000000000, &seed);
        fault->random = (unsigned long)seed;
        return good;
    }
    *known = words_skip(words, "once");
    if (*known)
        fault->times = 1;
    return true;
}

static bool kind_read(struct words *words, const struct fault_word *kinds, struct fault *fault)
{
    for (const struct fault_word *kind = kinds; kind->word != NULL; kind++) {
        if (!words_skip(words, kind->word))
            continue;
        fault->kind = kind;
        if (kind->effect == EFFECT_LATE || kind->effect == EFFECT_PAUSE)
            return words_milliseconds(words, &fault->value);
        bool counted = kind->effect == EFFECT_GARBAGE && words_skip(words, "bytes");
        return !counted || words_number(words, "the number of bytes", 1, 64, &fault->value);
    }
    return words_fail(words, "the fault cannot be '%s'; the README lists the words", words_peek(words));
}

bool fault_read(struct words *words, const struct fault_word *kinds, bool (*on_read)(struct words *, struct fault *),
                struct fault *fault)
{
    *fault = (struct fault){.byte = -1, .command = -1, .random = 1, .value = 3};
    if (!kind_read(words, kinds, fault))
        return false;
    bool known = true;
    while (known && !words_at_end(words)) {
        if (!condition_read(words, on_read, fault, &known))
            return false;
    }
    int whens = (fault->every > 0) + (fault->reply > 0) + (fault->chance > 0);
    return whens <= 1 || words_fail(words, "use only one of 'every', 'reply' and 'chance'");
}
