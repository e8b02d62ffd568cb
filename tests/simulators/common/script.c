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

static bool lines_read(struct script *script, FILE *stream)
{
    struct words words = {.file = script->file};
    while (fgets(words.text, sizeof words.text, stream) != NULL) {
        words.line++;
        if (strchr(words.text, '\n') == NULL && !feof(stream))
            return words_fail(&words, "the line is longer than %d bytes", LINE_BYTES - 2);
        if (!words_split(&words) || !line_read(script, &words))
            return false;
    }
    if (ferror(stream))
        return words_fail(&words, "cannot read on: %s", strerror(errno));
    return timeline_check_end(script);
}

bool script_read(struct script *script, const struct language *language, void *settings, const char *file)
{
    memset(script, 0, sizeof *script);
    script->file = file;
    script->language = language;
    script->settings = settings;
    script->patience_ms = 60000;
    FILE *stream = fopen(file, "r");
    if (stream == NULL) {
        fprintf(stderr, "%s: cannot open the script: %s\n", file, strerror(errno));
        return false;
    }
    bool good = lines_read(script, stream);
    fclose(stream);
    return good;
}
