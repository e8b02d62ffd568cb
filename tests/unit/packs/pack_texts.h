/*
 * Small good packs, line by line, and a way to spoil them, for the tests of the loader.
 */
#ifndef PACK_TEXTS_H
#define PACK_TEXTS_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A made-up currency. The number at the right is the line. */
static const char good_currency[] =
    "{\n"                                                                                                    /* 1 */
    "\"schema\": \"counterfoil.currency/1\",\n"                                                              /* 2 */
    "\"id\": \"XTS\", \"title\": \"Test\", \"version\": \"7\",\n"                                            /* 3 */
    "\"reviewed\": \"2026-02-28\",\n"                                                                        /* 4 */
    "\"decimals\": 2,\n"                                                                                     /* 5 */
    "\"source\": [\"book\"], \"confidence\": \"one\",\n"                                                     /* 6 */
    "\"sources\": {\"book\": \"a book\",\n"                                                                  /* 7 */
    "  \"hand\": \"a hand\"},\n"                                                                             /* 8 */
    "\"series\": [\n"                                                                                        /* 9 */
    "  {\"id\": \"B\", \"title\": \"new\", \"status\": \"issued\", \"source\": [\"book\"], "                 /* 10 */
    "\"confidence\": \"one\"},\n"                                                                            /* 10 */
    "  {\"id\": \"A\", \"title\": \"old\", \"status\": \"ended\", \"source\": [\"book\"], "                  /* 11 */
    "\"confidence\": \"several\"}],\n"                                                                       /* 11 */
    "\"features\": {\n"                                                                                      /* 12 */
    "  \"edge\": {\"feature\": \"edge\", \"group\": \"g1\", \"sense\": \"feel\", \"side\": \"front\",\n"     /* 13 */
    "    \"channels\": [\"infrared\",\n"                                                                     /* 14 */
    "      \"image\"], \"wear_sensitive\": true,\n"                                                          /* 15 */
    "    \"title\": \"Edge\", \"instruction\": \"Feel it.\", \"genuine\": \"Raised.\", \"tell\": \"Flat.\"," /* 16 */
    "\n    \"hint\": \"Wear.\", \"source\": [\"book\",\n"                                                    /* 17 */
    "      \"hand\"], \"confidence\": \"several\", \"tell_confidence\": \"memory\",\n"                       /* 18 */
    "    \"box\": {\"left\": 0.25, \"top\": 0, \"right\": 1, \"bottom\": 0.5,\n"                             /* 19 */
    "      \"confidence\": \"estimate\"}},\n"                                                                /* 20 */
    "  \"lamp\": {\"feature\": \"lamp\", \"group\": \"g2\", \"sense\": \"tool\", \"tools\": [\"uv_a\"],\n"   /* 21 */
    "    \"side\": \"back\", \"channels\": [], \"title\": \"Lamp\", \"instruction\": \"Look.\",\n"           /* 22 */
    "    \"genuine\": \"Dull.\", \"tell\": \"Bright.\", \"source\": [\"hand\"],\n"                           /* 23 */
    "    \"confidence\": \"practice\", \"tell_confidence\": \"derived\"}},\n"                                /* 24 */
    "\"notes\": [\n"                                                                                         /* 25 */
    "  {\"value_minor\": 500, \"series\": \"A\", \"length_mm\": 120, \"height_mm\": 62,\n"                   /* 26 */
    "    \"colour\": \"grey\", \"source\": [\"book\"], \"confidence\": \"one\",\n"                           /* 27 */
    "    \"checks\": [\"edge\"]},\n"                                                                         /* 28 */
    "  {\"value_minor\": 500, \"series\": \"B\", \"length_mm\": 121, \"height_mm\": 63, \"style\": \"s\",\n" /* 29 */
    "    \"colour\": \"red\", \"issued\": \"2024-02-29\", \"status\": \"new\",\n"                            /* 30 */
    "    \"source\": [\"book\"], \"confidence\": \"one\",\n"                                                 /* 31 */
    "    \"checks\": [\"lamp\",\n"                                                                           /* 32 */
    "      {\"use\": \"edge\", \"genuine\": \"Two gaps.\", \"box\": null, \"source\": [\"hand\"],\n"         /* 33 */
    "       \"confidence\": \"memory\", \"wear_sensitive\": false, \"channels\": [\"size\"]}]}],\n"          /* 34 */
    "\"serials\": [\n"                                                                                       /* 35 */
    "  {\"series\": \"B\", \"form\": \"LLDD\", \"hint\": \"back\",\n"                                        /* 36 */
    "   \"source\": [\"book\"], \"confidence\": \"one\", \"prefix_means\": \"works\",\n"                     /* 37 */
    "   \"prefixes\": [{\"source\": [\"book\"], \"confidence\": \"one\", \"names\": {\"AB\": \"first\",\n"   /* 38 */
    "     \"C\": \"second\"}},\n"                                                                            /* 39 */
    "     {\"kept_free\": true, \"source\": [\"book\"], \"confidence\": \"one\",\n"                          /* 40 */
    "      \"names\": {\"D\": \"third\"}}],\n"                                                               /* 41 */
    "   \"checksum\": {\"letter_a\": 1, \"modulus\": 7, \"remainder\": 3,\n"                                 /* 42 */
    "     \"source\": [\"book\"], \"confidence\": \"one\"}},\n"                                              /* 43 */
    "  {\"series\": \"A\", \"form\": \"DDD\", \"source\": [\"book\"], \"confidence\": \"one\"}],\n"          /* 44 */
    "\"base_rates\": [\n"                                                                                    /* 45 */
    "  {\"year\": 2024, \"withdrawn\": 10, \"per_million\": 2, \"source\": [\"book\"],\n"                    /* 46 */
    "   \"confidence\": \"one\", \"shares\": [{\"value_minor\": 500, \"permille\": 1000}]},\n"               /* 47 */
    "  {\"year\": 2023, \"withdrawn\": 9, \"source\": [\"book\"], \"confidence\": \"one\"}]\n"               /* 48 */
    "}\n";

static const char good_jurisdiction[] =
    "{\n"                                                                                          /* 1 */
    "\"schema\": \"counterfoil.jurisdiction/1\", \"id\": \"XX\", \"version\": \"1\",\n"            /* 2 */
    "\"reviewed\": \"2026-02-28\", \"title\": \"Test\",\n"                                         /* 3 */
    "\"as_of\": \"2026-01-31\",\n"                                                                 /* 4 */
    "\"source\": [\"law\"], \"confidence\": \"one\",\n"                                            /* 5 */
    "\"dispositions\": [\"set_aside\", \"not_taken\",\n"                                           /* 6 */
    "  \"abandoned\"],\n"                                                                          /* 7 */
    "\"ask_another\": \"a\", \"set_aside\": \"b\", \"tell_whom\": \"c\", \"write_down\": \"d\",\n" /* 8 */
    "\"never\": \"e\", \"caution\": \"f\", \"found_later\": \"g\", \"deadline\": \"h\",\n"         /* 9 */
    "\"sources\": {\"law\": \"a law\"}}\n";                                                        /* 10 */

static const char good_messages[] =
    "{\n"                                                                                                /* 1 */
    "\"schema\": \"counterfoil.messages/1\", \"id\": \"shop\", \"language\": \"en\",\n"                  /* 2 */
    "\"version\": \"1\", \"reviewed\": \"2026-02-28\", \"source\": \"own\", \"native_review\": false,\n" /* 3 */
    "\"messages\": {\"caution\": \"Take care.\",\n"                                                      /* 4 */
    "  \"other\": \"Other.\"}}\n";                                                                       /* 5 */

/* A copy of `text` with the first `from` replaced by `to`; the caller frees it. NULL when `from` is not in it. */
static inline char *text_spoil(const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);
    size_t size = strlen(text) + strlen(to) + 1;
    char *made = at != NULL ? malloc(size) : NULL;
    if (made != NULL)
        snprintf(made, size, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
    return made;
}

#endif
