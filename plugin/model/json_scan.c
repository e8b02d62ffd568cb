/*
 * Is a text strict JSON (RFC 8259), and on which line does a value stand? See json_scan.h.
 */
#include "model/json_scan.h"

#include "model/text.h"

#include <counterfoil/counterfoil.h>
#include <stdio.h>
#include <string.h>

/* A key of an object that is still open. */
struct open_key {
    uint32_t hash;
    uint32_t at; /* of its opening quote */
};

struct scanner {
    const char *text;
    size_t length;
    size_t at;
    uint32_t depth;
    const char *what; /* the first fault; NULL = none yet */
    int32_t result;
    uint32_t key_count;
    struct open_key keys[JSON_KEYS_MAX];
};

static bool value_scan(struct scanner *scanner);

static bool fail(struct scanner *scanner, const char *what)
{
    if (scanner->what == NULL) {
        scanner->what = what;
        scanner->result = CFOIL_E_DATA_SYNTAX;
    }
    return false;
}

static bool fail_size(struct scanner *scanner, const char *what)
{
    fail(scanner, what);
    scanner->result = CFOIL_E_DATA_SIZE;
    return false;
}

/* The character here; '\0' at the end, which no text holds (the UTF-8 check has refused it). */
static char peek(const struct scanner *scanner)
{
    return scanner->at < scanner->length ? scanner->text[scanner->at] : '\0';
}

static bool take(struct scanner *scanner, char wanted)
{
    if (peek(scanner) != wanted)
        return false;
    scanner->at++;
    return true;
}

/* RFC 8259 section 2: space, tab, line feed, carriage return, and nothing else. */
static void blanks_skip(struct scanner *scanner)
{
    while (peek(scanner) == ' ' || peek(scanner) == '\t' || peek(scanner) == '\n' || peek(scanner) == '\r')
        scanner->at++;
}

/* ---- Strings (RFC 8259 section 7) ---- */

static int32_t hex_value(char digit)
{
    if (digit >= '0' && digit <= '9')
        return digit - '0';
    if (digit >= 'a' && digit <= 'f')
        return digit - 'a' + 10;
    if (digit >= 'A' && digit <= 'F')
        return digit - 'A' + 10;
    return -1;
}

/* The value of four hexadecimal digits, or -1. */
static int32_t hex_unit(const char *text, size_t left)
{
    int32_t unit = 0;
    if (left < 4)
        return -1;
    for (int i = 0; i < 4; i++) {
        int32_t digit = hex_value(text[i]);
        if (digit < 0)
            return -1;
        unit = unit * 16 + digit;
    }
    return unit;
}

static bool surrogate_high(int32_t unit)
{
    return unit >= 0xD800 && unit <= 0xDBFF;
}

static bool surrogate_low(int32_t unit)
{
    return unit >= 0xDC00 && unit <= 0xDFFF;
}

/* After "\u": four digits, and after the first half of a surrogate pair the second. U+0000 would end a C text early. */
static bool unicode_scan(struct scanner *scanner)
{
    int32_t unit = hex_unit(scanner->text + scanner->at, scanner->length - scanner->at);
    if (unit < 0)
        return fail(scanner, "four hexadecimal digits must follow \\u");
    if (unit == 0)
        return fail(scanner, "\\u0000 is not allowed");
    scanner->at += 4;
    if (surrogate_low(unit))
        return fail(scanner, "half of a surrogate pair stands alone");
    if (!surrogate_high(unit))
        return true;
    int32_t second = -1;
    if (take(scanner, '\\') && take(scanner, 'u'))
        second = hex_unit(scanner->text + scanner->at, scanner->length - scanner->at);
    if (!surrogate_low(second))
        return fail(scanner, "half of a surrogate pair stands alone");
    scanner->at += 4;
    return true;
}

static bool escape_scan(struct scanner *scanner)
{
    char letter = peek(scanner);
    if (letter == '\0' || strchr("\"\\/bfnrtu", letter) == NULL)
        return fail(scanner, "an escape that JSON does not have");
    scanner->at++;
    return letter != 'u' || unicode_scan(scanner);
}

static bool string_scan(struct scanner *scanner)
{
    if (!take(scanner, '"'))
        return fail(scanner, "a text in double quotes is expected");
    while (!take(scanner, '"')) {
        if (scanner->at >= scanner->length)
            return fail(scanner, "a text is not closed");
        if ((unsigned char)peek(scanner) < 0x20)
            return fail(scanner, "a line end or control character inside a text");
        if (!take(scanner, '\\'))
            scanner->at++;
        else if (!escape_scan(scanner))
            return false;
    }
    return true;
}

/* ---- Keys ---- */

static size_t utf8_write(int32_t character, char *target)
{
    if (character < 0x80) {
        target[0] = (char)character;
        return 1;
    }
    size_t length = character < 0x800 ? 2 : character < 0x10000 ? 3 : 4;
    static const int32_t leads[] = {0, 0, 0xC0, 0xE0, 0xF0};
    for (size_t i = length - 1; i > 0; i--) {
        target[i] = (char)(0x80 | (character & 0x3F));
        character >>= 6;
    }
    target[0] = (char)(leads[length] | character);
    return length;
}

/* Decodes one escape; `at` is behind the backslash. Returns the characters read. */
static size_t escape_decode(const char *at, char *target, size_t *length)
{
    static const char letters[] = "bfnrt";
    static const char meanings[] = "\b\f\n\r\t";
    if (at[0] != 'u') {
        const char *found = strchr(letters, at[0]);
        target[(*length)++] = found != NULL ? meanings[found - letters] : at[0];
        return 1;
    }
    int32_t unit = hex_unit(at + 1, 4);
    size_t read = 5;
    if (surrogate_high(unit)) {
        unit = 0x10000 + ((unit - 0xD800) << 10) + (hex_unit(at + 7, 4) - 0xDC00);
        read = 11;
    }
    *length += utf8_write(unit, target + *length);
    return read;
}

/* The key whose opening quote is at `at`, in a string that was scanned; never longer decoded than written. */
static void key_decode(const char *at, char target[JSON_KEY_MAX])
{
    size_t length = 0;
    for (at++; *at != '"';) {
        if (*at != '\\')
            target[length++] = *at++;
        else
            at += 1 + escape_decode(at + 1, target, &length);
    }
    target[length] = '\0';
}

static uint32_t key_hash(const char *key)
{
    uint32_t hash = 2166136261u;
    for (; *key != '\0'; key++)
        hash = (hash ^ (unsigned char)*key) * 16777619u;
    return hash;
}

/* `first` is the number of this object's first key. */
static bool key_scan(struct scanner *scanner, uint32_t first)
{
    size_t begin = scanner->at;
    if (!string_scan(scanner))
        return false;
    size_t end = scanner->at;
    scanner->at = begin; /* the fault is at the key */
    if (end - begin > JSON_KEY_MAX)
        return fail_size(scanner, "a key is longer than 126 bytes");
    if (scanner->key_count == JSON_KEYS_MAX)
        return fail_size(scanner, "more than 1024 keys in one object and those around it");
    char key[JSON_KEY_MAX];
    char other[JSON_KEY_MAX];
    key_decode(scanner->text + begin, key);
    struct open_key made = {key_hash(key), (uint32_t)begin};
    for (uint32_t i = first; i < scanner->key_count; i++) {
        if (scanner->keys[i].hash != made.hash)
            continue;
        key_decode(scanner->text + scanner->keys[i].at, other);
        if (strcmp(key, other) == 0)
            return fail(scanner, "a key stands twice in one object");
    }
    scanner->keys[scanner->key_count++] = made;
    scanner->at = end;
    return true;
}

/* ---- Numbers (RFC 8259 section 6) ---- */

static bool digits_skip(struct scanner *scanner)
{
    size_t begin = scanner->at;
    while (peek(scanner) >= '0' && peek(scanner) <= '9')
        scanner->at++;
    return scanner->at > begin;
}

static bool number_scan(struct scanner *scanner)
{
    size_t begin = scanner->at;
    (void)take(scanner, '-');
    bool good = take(scanner, '0') || digits_skip(scanner);
    if (good && take(scanner, '.'))
        good = digits_skip(scanner);
    if (good && (take(scanner, 'e') || take(scanner, 'E'))) {
        if (!take(scanner, '+'))
            (void)take(scanner, '-');
        good = digits_skip(scanner);
    }
    if (!good)
        return fail(scanner, "a number is not written as JSON asks");
    if (scanner->at - begin > JSON_NUMBER_MAX)
        return fail_size(scanner, "a number has more than 32 characters");
    return true;
}

/* ---- Values ---- */

static bool word_scan(struct scanner *scanner, const char *word)
{
    size_t length = strlen(word);
    if (scanner->length - scanner->at < length || memcmp(scanner->text + scanner->at, word, length) != 0)
        return fail(scanner, "a word that JSON does not have");
    scanner->at += length;
    return true;
}

static bool members_scan(struct scanner *scanner)
{
    uint32_t first = scanner->key_count;
    do {
        blanks_skip(scanner);
        if (!key_scan(scanner, first))
            return false;
        blanks_skip(scanner);
        if (!take(scanner, ':'))
            return fail(scanner, "':' is expected after a key");
        if (!value_scan(scanner))
            return false;
    } while (take(scanner, ','));
    scanner->key_count = first;
    return take(scanner, '}') || fail(scanner, "',' or '}' is expected");
}

static bool elements_scan(struct scanner *scanner)
{
    do {
        if (!value_scan(scanner))
            return false;
    } while (take(scanner, ','));
    return take(scanner, ']') || fail(scanner, "',' or ']' is expected");
}

static bool container_scan(struct scanner *scanner, bool object)
{
    if (scanner->depth == JSON_DEPTH_MAX)
        return fail(scanner, "nested deeper than 32");
    scanner->at++;
    scanner->depth++;
    blanks_skip(scanner);
    bool good = take(scanner, object ? '}' : ']') || (object ? members_scan(scanner) : elements_scan(scanner));
    scanner->depth--;
    return good;
}

/* A value with the blanks around it. */
static bool value_scan(struct scanner *scanner)
{
    blanks_skip(scanner);
    bool good;
    switch (peek(scanner)) {
    case '{':
    case '[':
        good = container_scan(scanner, peek(scanner) == '{');
        break;
    case '"':
        good = string_scan(scanner);
        break;
    case 't':
        good = word_scan(scanner, "true");
        break;
    case 'f':
        good = word_scan(scanner, "false");
        break;
    case 'n':
        good = word_scan(scanner, "null");
        break;
    case '\0':
        good = fail(scanner, "the text ends where a value is expected");
        break;
    default:
        good = number_scan(scanner);
        break;
    }
    if (good)
        blanks_skip(scanner);
    return good;
}

static int32_t line_at(const char *text, size_t at)
{
    int32_t line = 1;
    for (size_t i = 0; i < at; i++)
        line += text[i] == '\n';
    return line;
}

/* The first line whose bytes are not UTF-8. No character of several bytes holds a line feed, so lines can be told apart
 * first. */
static size_t utf8_fault_at(const char *text, size_t length)
{
    size_t at = 0;
    while (at < length) {
        const char *end = memchr(text + at, '\n', length - at);
        size_t line = end != NULL ? (size_t)(end - text) - at : length - at;
        if (!text_utf8_valid(text + at, line))
            break;
        at += line + 1;
    }
    return at < length ? at : length;
}

bool json_scan(const char *text, size_t length, struct json_fault *fault)
{
    struct scanner scanner = {.text = text, .length = length};
    bool good;
    if (!text_utf8_valid(text, length)) {
        scanner.at = utf8_fault_at(text, length);
        good = fail(&scanner, "not UTF-8, or a zero byte");
    } else if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
        good = fail(&scanner, "begins with a byte-order mark; save it as UTF-8 without one");
    } else {
        good = value_scan(&scanner);
    }
    if (good && scanner.at < length)
        good = fail(&scanner, "more text follows the end of the value");
    if (!good)
        *fault = (struct json_fault){scanner.result, line_at(text, scanner.at), scanner.what};
    return good;
}

/* ---- Finding a line, in a text that is known to be good ---- */

static void string_skip(struct scanner *scanner)
{
    for (scanner->at++; peek(scanner) != '"' && scanner->at < scanner->length; scanner->at++)
        scanner->at += peek(scanner) == '\\';
    scanner->at++;
}

/* To the ',' '}' or ']' behind a value. */
static void value_skip(struct scanner *scanner)
{
    uint32_t depth = 0;
    while (scanner->at < scanner->length) {
        char here = peek(scanner);
        bool closes = here == '}' || here == ']';
        if (depth == 0 && (closes || here == ','))
            return;
        if (here == '"') {
            string_skip(scanner);
            continue;
        }
        if (closes)
            depth--;
        if (here == '{' || here == '[')
            depth++;
        scanner->at++;
    }
}

/* From an object's '{' to the value of a key; *found becomes the place of the key. */
static bool member_find(struct scanner *scanner, const char *key, size_t *found)
{
    bool more = peek(scanner) == '{';
    while (more) {
        scanner->at++;
        blanks_skip(scanner);
        if (peek(scanner) != '"')
            return false;
        size_t begin = scanner->at;
        string_skip(scanner);
        blanks_skip(scanner);
        scanner->at++; /* the colon */
        blanks_skip(scanner);
        char decoded[JSON_KEY_MAX];
        key_decode(scanner->text + begin, decoded);
        if (strcmp(decoded, key) == 0) {
            *found = begin;
            return true;
        }
        value_skip(scanner);
        more = peek(scanner) == ',';
    }
    return false;
}

/* From an array's '[' to its element number `index`. */
static bool element_find(struct scanner *scanner, uint32_t index, size_t *found)
{
    bool more = peek(scanner) == '[';
    for (uint32_t i = 0; more; i++) {
        scanner->at++;
        blanks_skip(scanner);
        if (peek(scanner) == ']')
            return false;
        if (i == index) {
            *found = scanner->at;
            return true;
        }
        value_skip(scanner);
        more = peek(scanner) == ',';
    }
    return false;
}

int32_t json_line_find(const char *text, size_t length, const struct json_path *path)
{
    struct scanner scanner = {.text = text, .length = length};
    blanks_skip(&scanner);
    size_t found = scanner.at;
    for (uint32_t i = 0; i < path->depth; i++) {
        const struct json_step *step = &path->steps[i];
        bool there = step->key != NULL ? member_find(&scanner, step->key, &found)
                                       : element_find(&scanner, step->index, &found);
        if (!there)
            break;
    }
    return line_at(text, found);
}

bool json_member_find(const char *text, size_t length, const char *key, const char **value, size_t *value_length)
{
    struct scanner scanner = {.text = text, .length = length};
    size_t found;
    blanks_skip(&scanner);
    if (!member_find(&scanner, key, &found))
        return false;
    size_t begin = scanner.at;
    value_skip(&scanner);
    size_t end = scanner.at;
    while (end > begin && strchr(" \t\r\n", text[end - 1]) != NULL)
        end--;
    *value = text + begin;
    *value_length = end - begin;
    return true;
}

void json_path_print(const struct json_path *path, char *target, size_t capacity)
{
    size_t length = 0;
    text_copy(target, capacity, path->depth == 0 ? "top level" : "");
    for (uint32_t i = 0; i < path->depth; i++) {
        const struct json_step *step = &path->steps[i];
        char part[JSON_KEY_MAX + 16];
        if (step->key == NULL)
            (void)snprintf(part, sizeof part, "[%u]", (unsigned)step->index);
        else
            (void)snprintf(part, sizeof part, "%s%s", i > 0 ? "." : "", step->key);
        text_copy(target + length, capacity - length, part);
        length = strlen(target);
    }
    for (; *target != '\0'; target++) {
        if ((unsigned char)*target < 0x20 || *target == 0x7F)
            *target = '?';
    }
}
