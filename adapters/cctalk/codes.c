/*
 * What a bill validator's event and fault codes mean. See codes.h.
 *
 * Source of both tables: ccTalk Generic Specification (issues 4.4 to 4.7), Part 3, FROM MEMORY unless a row says
 * otherwise. That is why an unknown code is told as unknown and never as money, and why rows name their trust.
 */
#include "codes.h"

#include <stddef.h>

#define MEMORY "Generic Specification Part 3, bill event codes; from memory"
#define MANUAL "also in the revision history of a device manual (one source); meaning from memory"

#define POSSIBLE(reason)     (1u << (reason))
#define AUTHENTIC_OR_UNKNOWN (POSSIBLE(CFOIL_REASON_AUTHENTICITY) | POSSIBLE(CFOIL_REASON_NOT_RECOGNISED))

/* A row without a finding. */
#define NO_FINDING -1, CFOIL_STRENGTH_NONE

/* A row that tells a condition of the device. */
#define CONDITION(code, category, condition, text)                                                                     \
    {                                                                                                                  \
        code, category, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, POSSIBLE(CFOIL_REASON_DEVICE), condition, NO_FINDING,  \
            text, MEMORY                                                                                               \
    }

/* A row that tells tampering. */
#define TAMPERING(code, text)                                                                                          \
    {                                                                                                                  \
        code, CCTALK_CATEGORY_FRAUD, CFOIL_KIND_DEVICE, CFOIL_REASON_TAMPERING, POSSIBLE(CFOIL_REASON_TAMPERING),      \
            CFOIL_CONDITION_TAMPERING, NO_FINDING, text, MEMORY                                                        \
    }

/* A row that tells that the device was set not to take the note. */
#define NOT_ENABLED(code, text, source)                                                                                \
    {                                                                                                                  \
        code, CCTALK_CATEGORY_STATUS, CFOIL_KIND_REJECTED, CFOIL_REASON_NOT_ENABLED,                                   \
            POSSIBLE(CFOIL_REASON_NOT_ENABLED), CFOIL_CONDITION_NONE, NO_FINDING, text, source                         \
    }

static const struct cctalk_event_code event_codes[] = {
    NOT_ENABLED(0, "Not taken: the validator was told to take no notes.", MEMORY),
    {1, CCTALK_CATEGORY_STATUS, CFOIL_KIND_RETURNED, CFOIL_REASON_NONE, 0, CFOIL_CONDITION_NONE, NO_FINDING,
     "The held note went back to the customer.", MEMORY},
    /* The code says no more than 'failed validation': it may also be a note the device does not know. */
    {2, CCTALK_CATEGORY_REJECT, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, AUTHENTIC_OR_UNKNOWN,
     CFOIL_CONDITION_NONE, CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_WEAK,
     "Not taken: the validator could not confirm the note. It does not say why.", MEMORY},
    {3, CCTALK_CATEGORY_REJECT, CFOIL_KIND_REJECTED, CFOIL_REASON_HANDLING, POSSIBLE(CFOIL_REASON_HANDLING),
     CFOIL_CONDITION_NONE, CFOIL_CHANNEL_TRANSPORT, CFOIL_STRENGTH_CLEAR,
     "Not taken: the note did not feed well (folded, skewed or pulled).", MEMORY},
    NOT_ENABLED(4, "Not taken: the validator was told not to take this value.", MANUAL),
    NOT_ENABLED(5, "Not taken: a switch on the validator bars this value.", MANUAL),
    CONDITION(6, CCTALK_CATEGORY_FATAL, CFOIL_CONDITION_JAM_REACHABLE,
              "A note is jammed where the customer may reach it."),
    CONDITION(7, CCTALK_CATEGORY_FATAL, CFOIL_CONDITION_JAM_SAFE, "A note is jammed in the stacker."),
    TAMPERING(8, "The validator reports that a note was pulled back."),
    TAMPERING(9, "The validator reports tampering."),
    CONDITION(10, CCTALK_CATEGORY_STATUS, CFOIL_CONDITION_STACKER_IN_PLACE, "The cash box is in order again."),
    CONDITION(11, CCTALK_CATEGORY_STATUS, CFOIL_CONDITION_STACKER_REMOVED, "The cash box was removed."),
    CONDITION(12, CCTALK_CATEGORY_STATUS, CFOIL_CONDITION_STACKER_IN_PLACE, "The cash box was put in."),
    CONDITION(13, CCTALK_CATEGORY_FATAL, CFOIL_CONDITION_FAULT, "The cash box or stacker has a fault."),
    CONDITION(14, CCTALK_CATEGORY_STATUS, CFOIL_CONDITION_STACKER_FULL, "The cash box is full."),
    CONDITION(15, CCTALK_CATEGORY_FATAL, CFOIL_CONDITION_JAM_SAFE, "The stacker is jammed."),
    CONDITION(16, CCTALK_CATEGORY_FATAL, CFOIL_CONDITION_JAM_SAFE,
              "A note is jammed where the customer cannot reach it."),
    TAMPERING(17, "The validator's optical sensors report interference."),
    TAMPERING(18, "The validator reports a string on a note."),
    CONDITION(19, CCTALK_CATEGORY_FATAL, CFOIL_CONDITION_FAULT, "The guard against strings has a fault."),
    CONDITION(20, CCTALK_CATEGORY_STATUS, CFOIL_CONDITION_BARCODE, "A printed ticket with a barcode was read."),
    CONDITION(21, CCTALK_CATEGORY_STATUS, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED,
              "A note of unknown value went to the cash box: count by hand."),
};

static const struct cctalk_event_code event_code_unknown = {
    0,
    CCTALK_CATEGORY_UNKNOWN,
    CFOIL_KIND_DEVICE,
    CFOIL_REASON_NONE,
    0,
    CFOIL_CONDITION_UNKNOWN_CODE,
    NO_FINDING,
    "The validator sent a code that the tables do not have.",
    "codes 22 to 255 are reserved; from memory",
};

const struct cctalk_event_code *cctalk_event_code_find(uint8_t code)
{
    /* The table is dense from 0, which tests/unit/adapters checks. */
    return code < sizeof event_codes / sizeof event_codes[0] ? &event_codes[code] : &event_code_unknown;
}

#define FAULT_MEMORY "Generic Specification Part 3, fault codes; from memory"
#define FAULT_DEVICE "device fault table of 2005 (one source)"

static const struct cctalk_fault_code fault_codes[] = {
    {1, NULL, "program memory checksum (a device table of 2005 says EEPROM checksum)", FAULT_DEVICE},
    {2, "coil", "inductive coils", FAULT_DEVICE},
    {3, NULL, "credit sensor", FAULT_DEVICE},
    {4, NULL, "piezo sensor", FAULT_DEVICE},
    {5, NULL, "reflective sensor", FAULT_MEMORY},
    {6, NULL, "diameter sensor", FAULT_MEMORY},
    {7, NULL, "wake-up sensor", FAULT_MEMORY},
    {8, "sensor", "sorter exit sensors", FAULT_DEVICE},
    {9, NULL, "non-volatile memory checksum", FAULT_MEMORY},
    {10, NULL, "coin dispensing", FAULT_MEMORY},
    {11, NULL, "low level sensor", FAULT_MEMORY},
    {12, NULL, "high level sensor", FAULT_MEMORY},
    {13, NULL, "coin counting", FAULT_MEMORY},
    {14, NULL, "keypad", FAULT_MEMORY},
    {15, NULL, "button", FAULT_MEMORY},
    {16, NULL, "display", FAULT_MEMORY},
    {17, NULL, "coin auditing", FAULT_MEMORY},
    {18, NULL, "reject sensor", FAULT_MEMORY},
    {19, NULL, "coin return mechanism", FAULT_MEMORY},
    {20, NULL, "string detector", FAULT_MEMORY},
    {21, NULL, "rim sensor", FAULT_MEMORY},
    {22, NULL, "temperature sensor", FAULT_DEVICE},
    {23, "device", "payout motor", FAULT_MEMORY},
    {24, "device", "payout timeout", FAULT_MEMORY},
    {25, "device", "payout jammed", FAULT_MEMORY},
    {26, "device", "payout sensor", FAULT_MEMORY},
    {27, "device", "level sensor", FAULT_MEMORY},
    {28, NULL, "personality module not fitted", FAULT_MEMORY},
    {29, NULL, "personality module checksum", FAULT_MEMORY},
    {30, NULL, "ROM checksum", FAULT_MEMORY},
    {31, "slave address", "a slave device is missing", FAULT_MEMORY},
    {32, "slave address", "internal communication", FAULT_MEMORY},
    {33, NULL, "supply voltage outside limits", FAULT_MEMORY},
    {34, NULL, "temperature outside limits", FAULT_DEVICE},
    {35, NULL, "coin calibration", FAULT_MEMORY},
    {36, "sensor", "validation sensor", FAULT_MEMORY},
    {37, NULL, "transport motor", FAULT_MEMORY},
    {38, NULL, "stacker", FAULT_MEMORY},
    {39, NULL, "note jammed", FAULT_MEMORY},
    {40, NULL, "memory test failed", FAULT_MEMORY},
    {41, NULL, "string sensor", FAULT_MEMORY},
    {42, NULL, "gate failed to open", FAULT_MEMORY},
    {43, NULL, "gate failed to close", FAULT_MEMORY},
    {44, NULL, "cash box missing", FAULT_MEMORY},
    {45, NULL, "cash box full", FAULT_MEMORY},
    {46, NULL, "flash memory erase failed", FAULT_MEMORY},
    {47, NULL, "flash memory write failed", FAULT_MEMORY},
    {48, "device", "a slave device does not answer", FAULT_MEMORY},
    {49, "sensor", "optical sensor", FAULT_MEMORY},
    {50, NULL, "battery", FAULT_MEMORY},
    {51, NULL, "door open", FAULT_MEMORY},
    {52, NULL, "microswitch", FAULT_MEMORY},
    {53, NULL, "clock", FAULT_MEMORY},
    {54, NULL, "firmware error", FAULT_MEMORY},
    {55, NULL, "initialisation error", FAULT_MEMORY},
    {56, NULL, "supply current outside limits", FAULT_MEMORY},
    {57, NULL, "forced bootloader mode", FAULT_MEMORY},
    {255, NULL, "unspecified fault", FAULT_MEMORY},
};

const struct cctalk_fault_code *cctalk_fault_code_find(uint8_t code)
{
    for (size_t i = 0; i < sizeof fault_codes / sizeof fault_codes[0]; i++) {
        if (fault_codes[i].code == code)
            return &fault_codes[i];
    }
    return NULL;
}
