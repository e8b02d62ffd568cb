/* What does a script say? Reads the file line by line: settings first, then the timeline. */
#include "script.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static bool patience_read(struct words *words, long *patience_ms)
{
    if (!words_number(words, "patience in ms", 0, MILLISECONDS_MOST, patience_ms))
        return false;
    words_skip(words, "ms");
    return words_finish(words);
}

/* NULL: the next word begins no setting. */
static const struct setting_word *setting_word_find(struct words *words, const struct setting_word *table)
{
    for (; table->word != NULL; table++) {
        if (words_skip(words, table->word))
            return table;
    }
    return NULL;
}

static bool line_read(struct script *script, struct words *words)
{
    if (words->count == 0)
        return true;
    const struct setting_word *setting = setting_word_find(words, script->language->settings);
    bool patience = setting == NULL && words_skip(words, "patience");
    if (setting == NULL && !patience)
        return timeline_read(script, words);
    if (script->count > 0)
        return words_fail(words, "'%s' must stand before the first step of the timeline", words->word[0]);
    return patience ? patience_read(words, &script->patience_ms) : setting->read(words, script->settings);
}

/* As fgets(), but a zero byte does not hide what comes after it. An empty text: the end. */
static bool line_take(struct words *words, FILE *stream)
{
    size_t length = 0;
    int character = 0;
    words->line++;
    while (length < LINE_BYTES - 1 && character != '\n' && (character = getc(stream)) != EOF) {
        if (character == '\0')
            return words_fail(words, "a zero byte, but a script is text");
        words->text[length++] = (char)character;
    }
    words->text[length] = '\0';
    bool whole = character == '\n' || character == EOF;
    return whole || words_fail(words, "the line is longer than %d bytes", LINE_BYTES - 2);
}

static bool lines_read(struct script *script, FILE *stream)
{
    struct words words = {.file = script->file};
    do {
        if (!line_take(&words, stream) || !words_split(&words) || !line_read(script, &words))
            return false;
    } while (!feof(stream) && !ferror(stream));
    if (ferror(stream))
        return words_fail(&words, "cannot read on: %s", strerror(errno));
    return timeline_check_end(script);
}

bool script_read_stream(struct script *script, const struct language *language, void *settings, const char *file,
                        FILE *stream)
{
    memset(script, 0, sizeof *script);
    script->file = file;
    script->language = language;
    script->settings = settings;
    script->patience_ms = 60000;
    return lines_read(script, stream);
}

bool script_read(struct script *script, const struct language *language, void *settings, const char *file)
{
    FILE *stream = fopen(file, "r");
    if (stream == NULL) {
        fprintf(stderr, "%s: cannot open the script: %s\n", file, strerror(errno));
        return false;
    }
    bool good = script_read_stream(script, language, settings, file, stream);
    fclose(stream);
    return good;
}
