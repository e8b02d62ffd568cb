/*
 * A device's description as the suite reads it, anew and apart from the adapter: messages built and split, numbers and
 * conditions looked at. docs/descriptions.md says what each means.
 */
#ifndef CONFORMANCE_DESCRIBED_WIRE_H
#define CONFORMANCE_DESCRIBED_WIRE_H

#include "suite.h"

#include "packs/description.h"

/* One message without escapes; a line without its end. */
struct message {
    uint32_t length;
    uint8_t bytes[DESCRIBED_MESSAGE_MAX];
};

enum split { SPLIT_MORE, SPLIT_DONE, SPLIT_DAMAGED };

/* Looks for one message at the beginning of what came. *used: how many raw bytes it has; of damage, those looked at. */
enum split message_split(const struct description *description, const uint8_t *raw, uint32_t length,
                         struct message *message, uint32_t *used);
/* The raw bytes of what is to be sent; how many. */
uint32_t message_make(const struct description *description, const struct described_bytes *send, uint32_t sequence,
                      uint8_t raw[DESCRIBED_FRAME_MAX]);
/* Turns the check of such bytes into a wrong one. False = there is none. */
bool message_spoil(const struct description *description, uint8_t *raw, uint32_t length);

/* False = the message has no such number. */
bool message_number(const struct description *description, const struct described_number *number, const uint8_t *bytes,
                    uint32_t length, uint32_t *value);
bool message_fits(const struct description *description, const struct described_conditions *conditions,
                  const uint8_t *bytes, uint32_t length);
/* The rule that speaks: of the given kind if one fits, else the first that fits; NULL = none knows the message. Rules
 * behind one that does not `go_on` are not looked at. */
const struct described_rule *message_rule(const struct description *description, const uint8_t *bytes, uint32_t length,
                                          int32_t kind);
/* The note that the rule names, NULL = none of the table. */
const struct described_note *message_note(const struct description *description, const struct described_rule *rule,
                                          const uint8_t *bytes, uint32_t length);

#endif
