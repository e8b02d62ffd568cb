/*
 * What a loaded pack looks like inside: for the files of this folder only.
 */
#ifndef PACKS_PACK_DATA_H
#define PACKS_PACK_DATA_H

#include "packs/arena.h"
#include "packs/message_format.h"
#include "packs/pack.h"
#include "packs/pack_evidence.h"
#include "packs/pack_exchange.h"

#include <stdatomic.h>

struct reader;

/* What the first characters of a serial number stand for. */
struct serial_prefix {
    const char *letters;
    const char *name;
    bool kept_free; /* reserved for it; no such notes are known */
};

/* One form of serial number. */
struct serial_rule {
    const char *series;
    const char *form;             /* 'L' = letter, 'D' = digit, '*' = a star */
    const char *letters_not_used; /* at the places of letters, or "" */
    const char *prefix_means;     /* "printing works", ... or "" */
    const char *hint;             /* where it stands, what to compare; or "" */
    const char *source;
    enum confidence confidence;
    bool repeats; /* two genuine notes of one value may carry the same number */
    bool has_checksum;
    uint32_t letter_a;  /* what A counts; B counts one more, and so on */
    uint32_t modulus;   /* letters and digits together, divided by this, */
    uint32_t remainder; /* leave this */
    uint32_t prefix_count;
    const struct serial_prefix *prefixes;
};

struct pack_currency {
    const char *code;
    const char *title;
    int32_t decimals;
    uint32_t series_count;
    uint32_t note_count;
    uint32_t serial_count;
    uint32_t rate_count;
    uint32_t check_count;       /* of all notes together */
    struct pack_series *series; /* newest first */
    struct pack_note *notes;
    struct serial_rule *serials;
    struct pack_rate *rates;
    uint32_t background_count;
    const struct pack_rule *background; /* what else is known, for an expert */
};

/* What stands for an English text of a pack in another language. */
struct pack_translation {
    const char *english;
    const char *text;
};

/* Texts of one language. Both kinds are message patterns. */
struct pack_messages {
    const char *language;
    const char *native_review; /* ISO 8601 date of the review by a native speaker, "" = none yet */
    const cJSON *messages;     /* key -> text; NULL = none */
    uint32_t message_count;
    uint32_t translation_count;
    const struct pack_translation *translations; /* in byte order of the English text */
};

/* Every name that some message of the catalogue uses. */
#define PACK_MESSAGE_NAME_COUNT 19
extern const struct message_name pack_message_names[PACK_MESSAGE_NAME_COUNT];

/* What may stand in the texts of a currency: "value" in whole units, and the note's size in millimetres. */
#define PACK_TEXT_NAME_COUNT 3
extern const struct message_name pack_text_names[PACK_TEXT_NAME_COUNT];

enum pack_kind { PACK_CURRENCY = 1, PACK_JURISDICTION = 2, PACK_MESSAGES = 3, PACK_EVIDENCE = 4, PACK_EXCHANGE = 5 };

/* One loaded file. Several sets may share it. */
struct pack {
    atomic_uint count;
    struct memory memory;
    enum pack_kind kind;
    const char *id;
    const char *version;
    const char *reviewed;
    cJSON *tree; /* most texts are borrowed from it */
    struct arena arena;
    union {
        struct pack_currency currency;
        struct pack_jurisdiction jurisdiction;
        struct pack_messages messages;
        struct pack_evidence evidence;
        struct pack_exchange exchange;
    } as;
};

const char *pack_kind_name(enum pack_kind kind);
enum pack_kind pack_kind_of(const char *schema); /* 0 = not known */

/* Is the text of a file of at most PACK_SIZE_MAX bytes strict JSON? */
int32_t pack_text_scan(const char *file, const char *text, size_t length, cfoil_error_info *error);

/* Parses one file's text, which need not outlive the call. `file` is for messages only. */
int32_t pack_parse(const struct memory *memory, const char *file, const char *text, size_t length, struct pack **pack,
                   cfoil_error_info *error);
void pack_retain(struct pack *pack);
void pack_release(struct pack *pack); /* NULL is harmless */

/* The body of each kind of pack, after the keys that all kinds have. */
int32_t pack_currency_read(struct reader *reader, const cJSON *tree, struct pack_currency *currency);
int32_t pack_jurisdiction_read(struct reader *reader, const cJSON *tree, struct pack_jurisdiction *jurisdiction);
int32_t pack_messages_read(struct reader *reader, const cJSON *tree, struct pack_messages *messages);
int32_t pack_evidence_read(struct reader *reader, const cJSON *tree, struct pack_evidence *evidence);
int32_t pack_exchange_read(struct reader *reader, const cJSON *tree, struct pack_exchange *exchange);

/* A list of texts with sources of their own; a list that is not there has no rows. */
int32_t facts_read(struct reader *reader, const cJSON *tree, const char *key, const struct pack_rule **facts,
                   uint32_t *count);

/* Is object[key], when it is there, a pattern with none but the names above? */
int32_t reader_text_pattern_check(struct reader *reader, const cJSON *object, const char *key);

/* Parts of a currency. */

/* "tender_until" and "after_tender" of a series or a note, where they are there. */
int32_t tender_take(struct reader *reader, const cJSON *object, const char **until, const char **after);
int32_t checks_read(struct reader *reader, const cJSON *tree, struct pack_currency *currency);
int32_t serials_read(struct reader *reader, const cJSON *list, struct pack_currency *currency);

/* The entry that a serial number in normal form begins with, or NULL. No entry begins another. */
const struct serial_prefix *serial_prefix_find(const struct serial_rule *rule, const char *serial);

/* The same as pack_phrase_of_key() and pack_phrase_of_text(), without English as the last resort: the pattern is NULL when
 * the language has none of its own. */
struct pack_phrase pack_phrase_own_key(const struct pack_set *set, const char *language, const char *key);
struct pack_phrase pack_phrase_own_text(const struct pack_set *set, const char *language, const char *english);

/* The packs of a set, in the order in which they were added. */
uint32_t pack_set_count(const struct pack_set *set);
const struct pack *pack_set_at(const struct pack_set *set, uint32_t index);

/* Reads a whole regular file of at most PACK_SIZE_MAX bytes; the text is ended and freed with memory_release(). */
int32_t pack_file_read(const struct memory *memory, const char *path, char **text, size_t *length,
                       cfoil_error_info *error);

/* The paths of every *.json of a directory, in byte order of their names. */
struct pack_directory {
    uint32_t count;
    char **paths;
};
#define PACK_FILES_MAX 256u
int32_t pack_directory_read(const struct memory *memory, const char *path, struct pack_directory *directory,
                            cfoil_error_info *error);
void pack_directory_release(const struct memory *memory, struct pack_directory *directory);

#endif
