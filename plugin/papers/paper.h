/*
 * Papers: what is printed about refused and kept notes? Receipt, envelope label, hand-over list, list of a period.
 * Facts come from the ledger, words from the packs; no text of this folder reaches a person.
 */
#ifndef PAPERS_PAPER_H
#define PAPERS_PAPER_H

#include "ledger/ledger.h"
#include "packs/pack.h"

/* What the ledger knows for a paper, read at one moment. */
#define PAPER_STORE_SIZE 65
struct paper_facts {
    char store[PAPER_STORE_SIZE]; /* its name */
    cJSON *notes;                 /* as keep_notes() lists them */
};

/* The options are checked as to their texts and ranges. CFOIL_E_LEDGER_*, CFOIL_E_MEMORY. */
int32_t paper_facts_read(struct ledger *ledger, const cfoil_paper_options *options, struct paper_facts *facts,
                         cfoil_error_info *error);
void paper_facts_free(struct paper_facts *facts);

/* What must be loaded to write it: the jurisdiction, and the currency of each note (NULL after the last). */
const char *paper_jurisdiction(const struct paper_facts *facts, const cfoil_paper_options *options);
const char *paper_currency(const struct paper_facts *facts, int index);

/* Writes the paper; the caller frees *text with memory_release(). CFOIL_OK, CFOIL_E_MISSING_CASE, CFOIL_E_MISSING_PACK,
 * CFOIL_E_MISSING_JURISDICTION, CFOIL_E_RULE_CUSTODY (there is no such paper for this note), CFOIL_E_MEMORY. */
int32_t paper_write(const struct memory *memory, const struct pack_set *packs, const cfoil_paper_options *options,
                    const struct paper_facts *facts, int64_t now_utc_ms, char **text, cfoil_error_info *error);

#endif
