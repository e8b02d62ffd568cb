/*
 * Any notes, as other hands may leave them in a ledger, on every paper: no line is wider than the paper, nothing but a line's
 * end steers a printer, and a page has no marks but its own.
 */
#include "fuzz.h"

#include "ledger/ledger.h"
#include "model/cells.h"
#include "model/text.h"
#include "papers/paper.h"

static struct pack_set *packs;

static void packs_make(void)
{
    demand(pack_set_create(&memory_heap, &packs, NULL) == CFOIL_OK);
}

static void packs_end(void)
{
    pack_set_release(packs);
}

static void plain_look(const char *text, size_t columns)
{
    while (*text != '\0') {
        size_t length = strcspn(text, "\n");
        demand(text[length] == '\n');
        demand(cells_count(text, length) <= columns);
        for (size_t i = 0; i < length; i++)
            demand((unsigned char)text[i] >= 0x20 && text[i] != 0x7F);
        text += length + 1;
    }
}

/* What was typed cannot open a tag: each '<' begins one of ours. */
static void page_look(const char *text)
{
    static const char *const ours[] = {"<!DOCTYPE html>",
                                       "<html lang=\"",
                                       "</html>",
                                       "<head>",
                                       "</head>",
                                       "<meta ",
                                       "<title>",
                                       "</title>",
                                       "<style>",
                                       "</style>",
                                       "<body",
                                       "</body>",
                                       "<h1>",
                                       "</h1>",
                                       "<p>",
                                       "<p class=\"",
                                       "</p>",
                                       "<span>",
                                       "</span>",
                                       "<b>",
                                       "</b>",
                                       "<i></i>",
                                       "</i>",
                                       "<section>",
                                       "</section>"};
    for (const char *at = strchr(text, '<'); at != NULL; at = strchr(at + 1, '<')) {
        bool known = false;
        for (size_t i = 0; !known && i < sizeof ours / sizeof ours[0]; i++)
            known = strncmp(at, ours[i], strlen(ours[i])) == 0;
        demand(known);
    }
}

static void paper_try(const struct paper_facts *facts, const cfoil_paper_options *options)
{
    char *text = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = paper_write(&memory_heap, packs, options, facts, 0, &text, &error);
    demand((result == CFOIL_OK) == (text != NULL));
    if (result != CFOIL_OK) {
        demand(error.result == result && error.text[0] != '\0');
        return;
    }
    demand(text_utf8_valid(text, strlen(text)));
    if (options->format == CFOIL_PAPER_HTML)
        page_look(text);
    else
        plain_look(text, options->format == CFOIL_PAPER_PLAIN_42 ? 42 : 48);
    memory_release(&memory_heap, text);
}

/* The kind, the language and the place in front; then the notes, as keep_notes() lists them. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const languages[] = {"en", "de", "fr", "it", "es", "hi"};
    static const char *const places[] = {"DE", "IN", "US"};
    if (packs == NULL) {
        packs_make();
        demand(atexit(packs_end) == 0);
    }
    struct walk walk = {data, size};
    uint8_t shape = walk_byte(&walk);
    cfoil_paper_options options = CFOIL_PAPER_OPTIONS_INIT;
    options.kind = CFOIL_PAPER_RECEIPT + shape % 4;
    options.language = languages[shape / 4 % 6];
    options.jurisdiction = places[shape / 24 % 3];
    options.utc_offset_minutes = (shape % 29 - 14) * 60;
    if (options.kind <= CFOIL_PAPER_LABEL || shape >= 128)
        options.case_id = "c";
    char *json = text_copied(walk.bytes, walk.left);
    struct paper_facts facts = {"Corner shop", NULL};
    demand(ledger_body_parse(json, &facts.notes) == CFOIL_OK);
    if (cJSON_IsArray(facts.notes)) {
        for (options.format = CFOIL_PAPER_PLAIN_42; options.format <= CFOIL_PAPER_HTML; options.format++)
            paper_try(&facts, &options);
    }
    paper_facts_free(&facts);
    free(json);
    return 0;
}
