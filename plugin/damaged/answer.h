/*
 * The answer to a request: as JSON (schema "counterfoil.damaged-answer/1") and in words.
 */
#ifndef DAMAGED_ANSWER_H
#define DAMAGED_ANSWER_H

#include "damaged/judge.h"
#include "model/drawing.h"

/* One request: opened from its text, answered with packs, closed. */
struct damaged_session;

/* Is the text strict JSON? It must outlive the session. CFOIL_OK, CFOIL_E_DATA_SIZE, CFOIL_E_DATA_SYNTAX, CFOIL_E_MEMORY;
 * on failure *session is NULL. */
int32_t damaged_session_open(const struct memory *memory, const char *text, struct damaged_session **session,
                             cfoil_error_info *error);
void damaged_session_close(struct damaged_session *session); /* NULL is harmless */

/* The packs that the request needs; its texts live as long as the session. */
struct pack_wanted damaged_session_wanted(const struct damaged_session *session);

/* Reads and judges, then answers as JSON, freed with cJSON_Delete(), or in lines of plain text, freed with
 * memory_release(). CFOIL_OK, CFOIL_E_DATA_SCHEMA, CFOIL_E_MISSING_*, CFOIL_E_MEMORY. */
int32_t damaged_session_answer(struct damaged_session *session, const struct pack_set *packs, cJSON **answer,
                               cfoil_error_info *error);
int32_t damaged_session_text(struct damaged_session *session, const struct pack_set *packs, char **text,
                             cfoil_error_info *error);

/* What stands for a topic here: of the condition that decided, of the design, or else of the pack. */
void topic_rule_take(const struct judgement *judgement, const struct pack_topic *topic, struct pack_rule *rule);

/* Is this row of the quotas shown? Of each kind only the first that fits. */
bool quota_shown(const struct damaged_request *request, const struct judgement *judgement, uint32_t index);

/* Adds the whole answer to an empty object; false = no memory. */
bool answer_fill(cJSON *answer, const struct pack_set *packs, const struct damaged_request *request,
                 const struct judgement *judgement);

/* The answer in words, as snprintf() would. */
void damaged_words_write(const struct pack_set *packs, const struct damaged_request *request,
                         const struct judgement *judgement, struct drawing *text);

/* Thousandths without needless zeros: 62.5. Area likewise, in square millimetres. */
#define NUMBER_TEXT_SIZE 32
void thousandths_write(int64_t thousandths, char text[NUMBER_TEXT_SIZE]);

#endif
