/*
 * Packs: the data of currencies and jurisdictions and the message catalogue; loader, checker and look-up.
 * A loaded pack never changes; a set of packs is counted and shared, so an open case keeps the set it began with.
 */
#ifndef PACKS_PACK_H
#define PACKS_PACK_H

#include "model/memory.h"

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>
#include <stdbool.h>

#define PACK_SIZE_MAX  1048576u /* bytes of one file */
#define PACK_DEPTH_MAX 32       /* nesting of one file */

/* How far a fact can be trusted; never raised above what its source sheet says. */
enum confidence {
    CONFIDENCE_SEVERAL = 1,  /* two or more independent sources */
    CONFIDENCE_ONE = 2,      /* one source */
    CONFIDENCE_DERIVED = 3,  /* worked out from sourced facts */
    CONFIDENCE_PRACTICE = 4, /* common practice, no source */
    CONFIDENCE_MEMORY = 5,   /* from memory, not seen in a source */
    CONFIDENCE_ESTIMATE = 6  /* a place or number estimated from memory */
};
const char *confidence_word(enum confidence confidence); /* as in a pack: "several", "memory", ... */
const char *confidence_name(enum confidence confidence); /* "two or more sources", "from memory", ... */

struct pack_box {
    bool known;
    int32_t left_permille, top_permille, right_permille, bottom_permille;
    enum confidence confidence;
};

/* One manual check of one feature on one note. All texts are never NULL. */
struct pack_check {
    const char *id;      /* unique within the note, for example "emerald-number" */
    const char *feature; /* what is checked */
    const char *group;   /* checks of one group depend on each other and count once */
    int32_t sense;       /* CFOIL_SENSE_* */
    int32_t side;        /* 0 whole, 1 front, 2 back */
    uint32_t tool;       /* CFOIL_TOOL_* needed, 0 = none */
    uint32_t channels;   /* 1u << CFOIL_CHANNEL_* that this check speaks to */
    uint32_t needs;      /* CFOIL_WITHOUT_*: what the check cannot be made without */
    bool wear_sensitive; /* worn or washed genuine notes commonly miss it */
    bool ends;           /* not as it should be: that alone ends the case */
    const char *title;
    const char *instruction;
    const char *genuine; /* how it should be */
    const char *tell;    /* what would not be as it should be */
    const char *hint;    /* condition trap or "" */
    const char *source;
    enum confidence confidence;
    enum confidence tell_confidence;
    struct pack_box box;
};

struct pack_note {
    int64_t value_minor;
    const char *series; /* series id */
    uint32_t length_mm, height_mm;
    const char *colour;       /* dominant colour */
    const char *style;        /* of the main picture, or "" */
    const char *issued;       /* ISO 8601 date of first issue, "" = not in the pack */
    const char *status;       /* what differs from the status of the series, or "" */
    const char *tender_until; /* ISO 8601 date: the last day as money in shops; "" = no such day known. Of the note, or
                                 else of its series */
    const char *after_tender; /* what a holder can do after that day, or "" */
    const char *source;       /* of this row */
    enum confidence confidence;
    uint32_t check_count;
    const struct pack_check *checks; /* in the order in which a cashier should make them when nothing else is known */
};

struct pack_series {
    const char *id;
    const char *title;  /* how to tell it, in one line */
    const char *status; /* "issued", "legal tender, no longer issued", ... */
    const char *tender_until;
    const char *after_tender;
    const char *source;
    enum confidence confidence;
};

/* Published figure of one year: how rare it is that a note turns out not to be genuine. */
struct pack_rate_share {
    int64_t value_minor;
    uint32_t permille; /* of all such notes of that year */
};
struct pack_rate {
    uint32_t year;
    uint32_t withdrawn;   /* notes withdrawn in that year */
    uint32_t per_million; /* for each million genuine notes in circulation; 0 = not published */
    uint32_t share_count;
    const struct pack_rate_share *shares;
    const char *source;
    enum confidence confidence;
};

struct pack_currency; /* one currency */

/* One text of a jurisdiction with its own source. */
struct pack_rule {
    const char *text; /* never "", but for a rule that a jurisdiction may be without */
    const char *source;
    enum confidence confidence;
};

/* A rule with a number in it. */
struct pack_limit {
    struct pack_rule rule;
    uint32_t number; /* 0 = no source for one was found */
};

struct pack_jurisdiction {
    const char *id; /* "common", "DE", ... */
    const char *title;
    uint32_t dispositions;        /* 1u << CFOIL_DISPOSITION_* offered after a doubt */
    int32_t first_disposition;    /* the one to show first */
    struct pack_rule ask_another; /* what to do, advice ASK_ANOTHER */
    struct pack_rule set_aside;   /* what to do, advice SET_ASIDE */
    struct pack_rule tell_whom;
    struct pack_rule write_down;
    struct pack_rule never;
    struct pack_rule caution;     /* check locally; local law decides */
    struct pack_rule found_later; /* a note in doubt that is found in the till */
    struct pack_rule deadline;    /* what must be done by when */
    struct pack_rule customer;    /* for the customer's receipt: whom to ask, what comes back; may be "" */
    struct pack_limit pieces;     /* so many notes in one payment are told at once; may be "" */
    struct pack_limit days_kept;  /* how long personal data may be kept; may be "" */
    uint32_t law_count;
    const struct pack_rule *law; /* provisions that matter, for a supervisor */
    const char *source;          /* of the pack as a whole */
    enum confidence confidence;
    const char *date; /* as of, ISO 8601 date */
};

struct pack_set;

/* A set with all built-in packs. */
int32_t pack_set_create(const struct memory *memory, struct pack_set **set, cfoil_error_info *error);

/* A set without packs: they are read when somebody wants them, because reading all of them takes tens of milliseconds. */
int32_t pack_set_create_empty(const struct memory *memory, struct pack_set **set, cfoil_error_info *error);

/* What somebody is going to look up. */
struct pack_wanted {
    const char *currency;     /* and the evidence; NULL = none */
    const char *jurisdiction; /* "" = the common ground, NULL = none */
    const char *language;     /* and English; "" = English alone, NULL = none */
    const char *exchange;     /* the rules for damaged notes of this currency; NULL = none */
};

/* `from`, counted once more, when no built-in pack that is wanted lacks; else a new set that has them too. A pack that was added
 * stays in the place of the built-in one with its id. wanted NULL = all. */
int32_t pack_set_provide(struct pack_set *from, const struct pack_wanted *wanted, struct pack_set **set,
                         cfoil_error_info *error);

/* A new set with every *.json of the directory added or replacing; `from` stays as it is. */
int32_t pack_set_extend(const struct pack_set *from, const char *directory, struct pack_set **set,
                        cfoil_error_info *error);
struct pack_set *pack_set_retain(struct pack_set *set);
void pack_set_release(struct pack_set *set); /* NULL is harmless */

const struct pack_currency *pack_currency_find(const struct pack_set *set, const char *currency);
/* series NULL = the newest series that has the value. NULL = not found. */
const struct pack_note *pack_note_find(const struct pack_currency *currency, int64_t value_minor, const char *series);
const struct pack_series *pack_series_find(const struct pack_currency *currency, const char *series);
const char *pack_currency_code(const struct pack_currency *currency); /* ISO 4217 */
/* The number of decimal places of the currency (ISO 4217). */
int32_t pack_currency_decimals(const struct pack_currency *currency);
/* A value in whole units: "50"; with its decimals only when they are not 0. */
void pack_value_write(const struct pack_currency *currency, int64_t value_minor, char *target, size_t capacity);
/* Published yearly figures, newest first; *count may become 0. */
const struct pack_rate *pack_currency_rates(const struct pack_currency *currency, uint32_t *count);
/* id NULL or "" = the cautious common ground. NULL = not found. */
const struct pack_jurisdiction *pack_jurisdiction_find(const struct pack_set *set, const char *id);

/* A text and its language, whose plural rules it follows: a message pattern (packs/message_format.h). */
struct pack_phrase {
    const char *pattern;
    const char *language;
};

/* Does a pack in `language` serve who wants `wanted`: the same, or what stands before one of its '-'? */
bool pack_language_serves(const char *language, const char *wanted);

/* Are there texts in the language, or in the one before its last '-'? NULL, "" and "en" always. */
bool pack_language_known(const struct pack_set *set, const char *language);

/* The message of a catalogue key in the language, else in the language before its last '-' (RFC 4647 section 3.4), else in
 * English; of several packs that of the one added last. The pattern is NULL when nobody has the key. */
struct pack_phrase pack_phrase_of_key(const struct pack_set *set, const char *language, const char *key);

/* The same for an English text of a pack, which is itself the last resort. */
struct pack_phrase pack_phrase_of_text(const struct pack_set *set, const char *language, const char *english);

/* A text of a jurisdiction in the language: "title", "date", "source", the name of one of its rules ("found_later", ...), "law.1",
 * "law.2", ...; "found_later.source", "law.1.source" with its trust. The pattern is NULL when it has none of that name. */
struct pack_phrase pack_phrase_of_jurisdiction(const struct pack_set *set, const char *language,
                                               const struct pack_jurisdiction *jurisdiction, const char *name);

/* The patterns alone; the key itself when nobody has it. Never NULL. */
const char *pack_message(const struct pack_set *set, const char *language, const char *key);
const char *pack_text(const struct pack_set *set, const char *language, const char *english);

/* What the language lacks of everything that a cashier may read, one line each; the caller frees *lines with
 * memory_release(). English lacks nothing. CFOIL_OK, CFOIL_E_MEMORY. */
int32_t pack_language_check(const struct pack_set *set, const struct memory *memory, const char *language, char **lines,
                            uint32_t *missing);

/* The day on which a native speaker reviewed the language's texts: of all its packs the earliest, "" when one has none. */
const char *pack_language_review(const struct pack_set *set, const char *language);
/* Adds "packs", "currencies", "jurisdictions" and "languages" to the object; false = no memory. */
bool pack_set_describe(const struct pack_set *set, cJSON *object);

/* Checks one file. On success writes one line about what it holds. */
int32_t pack_file_check(const struct memory *memory, const char *path, char *summary, size_t capacity,
                        cfoil_error_info *error);

/* Form and check figure of a serial number; fills every member of *result but struct_size and seen_refused. */
void serial_check(const struct pack_currency *currency, const char *serial, cfoil_serial *result);

/* May two genuine notes of one value carry this number? Then having seen it before says little. */
bool serial_repeats(const struct pack_currency *currency, const char *normalised);

/* Puts what serial_check() said into the words of a language; what is longer than its member is cut. */
void serial_words(const struct pack_set *set, const char *language, const struct pack_currency *currency,
                  cfoil_serial *result);

#endif
