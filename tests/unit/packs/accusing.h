/*
 * The words that no text for people may hold, by language.
 */
#ifndef ACCUSING_H
#define ACCUSING_H

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

/* Words, or beginnings of words, that judge a note or a person. Our own judgement for the languages but English. */
static const struct {
    const char *language;
    const char *words[24];
} accusing[] = {
    {"en",
     {"counterfeit", "fake", "forge", "criminal", "crime", "fraud", "bogus", "phoney", "arrest", "guilty", "suspect ",
      "crook", "suspicious", "thief", "steal", "cheat", "seize", "false ", "illegal"}},
    {"de",
     {"f\xC3\xA4lsch", "falschgeld", "bl\xC3\xBCte", "betrug", "betr\xC3\xBCg", "verbrech", "kriminell",
      "verd\xC3\xA4"
      "chtig",
      "dieb", "t\xC3\xA4ter", "strafbar gemacht"}},
    {"fr", {"faux ", "fausse", "contrefa", "fraud", "escroc", "voleur", "crimin", "suspect", "coupable", "malfaiteur"}},
    {"it", {"fals", "contraffa", "truff", "crimin", "sospett", "ladro", "colpevol", "frode"}},
    {"es", {"fals", "fraude", "estaf", "crimin", "sospech", "ladr\xC3\xB3n", "culpable", "delincuen"}},
    {"hi",
     {"\xE0\xA4\xA8\xE0\xA4\x95\xE0\xA4\xB2\xE0\xA5\x80",                         /* imitation */
      "\xE0\xA4\x9C\xE0\xA4\xBE\xE0\xA4\xB2\xE0\xA5\x80",                         /* forged */
      "\xE0\xA4\x9C\xE0\xA4\xBE\xE0\xA4\xB2\xE0\xA4\xB8\xE0\xA4\xBE\xE0\xA4\x9C", /* forger */
      "\xE0\xA4\xA7\xE0\xA5\x8B\xE0\xA4\x96\xE0\xA4\xBE",                         /* deceit */
      "\xE0\xA4\x85\xE0\xA4\xAA\xE0\xA4\xB0\xE0\xA4\xBE\xE0\xA4\xA7",             /* crime */
      "\xE0\xA4\xA6\xE0\xA5\x8B\xE0\xA4\xB7\xE0\xA5\x80"}},                       /* guilty */
};

static inline char small(char letter)
{
    return letter >= 'A' && letter <= 'Z' ? (char)(letter - 'A' + 'a') : letter;
}

static inline bool contains(const char *text, const char *word)
{
    for (; *text != '\0'; text++) {
        size_t length = 0;
        while (word[length] != '\0' && small(text[length]) == small(word[length]))
            length++;
        if (word[length] == '\0')
            return true;
    }
    return false;
}

/* The word of the list that stands in the text, or NULL. */
static inline const char *accusing_word(const char *language, const char *text)
{
    for (size_t i = 0; i < sizeof accusing / sizeof accusing[0]; i++) {
        if (strncmp(language, accusing[i].language, 2) != 0)
            continue;
        for (size_t j = 0; accusing[i].words[j] != NULL; j++) {
            if (contains(text, accusing[i].words[j]))
                return accusing[i].words[j];
        }
    }
    return NULL;
}

#endif
