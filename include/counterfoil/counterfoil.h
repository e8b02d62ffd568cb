/*
 * counterfoil.h - the interface of Counterfoil for point-of-sale programs.
 *
 * Counterfoil listens to a note validator, tells the cashier which features of a refused note to check by hand,
 * and keeps a durable record of every refusal. It is an aid, not proof: nobody should confront a customer on its
 * word, and local law and the licensed authority decide what a note is.
 *
 * SPDX-License-Identifier: Apache-2.0
 *
 * Conventions that hold for every function below (the long form is docs/abi.md):
 *
 *  - Handles are opaque pointers. The caller owns a handle that a function returns through a pointer-to-pointer and
 *    gives it back with the matching `_close` call. Closing NULL is harmless. A call on a closed handle is answered
 *    with CFOIL_E_STATE_STALE for at least the next 1024 closes in that context; closing a context ends every handle
 *    made from it, and nothing made from it may be used afterwards.
 *  - Option and result structs begin with `uint32_t struct_size`. Set it with the matching _INIT macro (or to sizeof
 *    with every other byte zero): all-zero members mean the default. Structs grow only at the end; a larger struct
 *    than the library knows is accepted when the unknown tail is zero.
 *  - Text is UTF-8 and ends with a zero byte. Money is whole minor units with an ISO 4217 code. Wall time is UTC
 *    milliseconds since 1970-01-01. Waiting times are `uint32_t` milliseconds; 0 means do not wait, and no infinite
 *    wait exists.
 *  - Where a function fills a buffer (`buffer`, `capacity`, `needed`), it always ends the text with a zero byte when
 *    capacity is at least 1 and always sets `*needed` (may be NULL) to the bytes the whole text takes, ending byte
 *    included. Too small a buffer is CFOIL_E_ARGUMENT_BUFFER; nothing else has changed then, call again with more.
 *  - Every function that can fail returns a result code: 0 is success, the low 8 bits are the class, the bits above
 *    are the exact cause. Tolerate values you do not know: cfoil_error_text() and cfoil_result_action() know them.
 *  - The library prints nothing, installs no signal handler, never exits, and keeps no state outside a context.
 *  - Threads: unless a function says otherwise, any thread may call it, and calls on one handle may run together.
 */
#ifndef COUNTERFOIL_H
#define COUNTERFOIL_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(_WIN32) && !defined(CFOIL_STATIC)
#ifdef CFOIL_BUILD
#define CFOIL_API __declspec(dllexport)
#else
#define CFOIL_API __declspec(dllimport)
#endif
#elif defined(__GNUC__) && defined(CFOIL_BUILD)
#define CFOIL_API __attribute__((visibility("default")))
#else
#define CFOIL_API
#endif

/* The version of this header. The build, the package files and the library take theirs from these lines. */
#define CFOIL_VERSION_MAJOR 0
#define CFOIL_VERSION_MINOR 1
#define CFOIL_VERSION_PATCH 0

/* CFOIL_SIZED(type): a struct of that type with struct_size set and every other byte zero; the _INIT macros use it. */
#ifdef __cplusplus
extern "C++" {
template <typename Struct> inline Struct cfoil_sized()
{
    Struct value = Struct();
    value.struct_size = static_cast<uint32_t>(sizeof(Struct));
    return value;
}
}
#define CFOIL_SIZED(type) cfoil_sized<type>()
#else
#define CFOIL_SIZED(type)                                                                                              \
    {                                                                                                                  \
        .struct_size = (uint32_t)sizeof(type)                                                                          \
    }
#endif

/* ---- Result codes ------------------------------------------------------------------------------------------- */

/* The low 8 bits of a result: what kind of trouble it is. */
enum {
    CFOIL_CLASS_OK = 0,
    CFOIL_CLASS_ARGUMENT = 1, /* the call is wrong: fix the program */
    CFOIL_CLASS_STATE = 2,    /* not possible now */
    CFOIL_CLASS_MEMORY = 3,
    CFOIL_CLASS_TIME = 4,   /* the waiting time passed, nothing happened */
    CFOIL_CLASS_PORT = 5,   /* the way to the device */
    CFOIL_CLASS_DEVICE = 6, /* the device itself */
    CFOIL_CLASS_DATA = 7,   /* a file: pack, trace, description */
    CFOIL_CLASS_LEDGER = 8, /* the durable store */
    CFOIL_CLASS_RULE = 9,   /* a money or custody rule forbids it */
    CFOIL_CLASS_MISSING = 10,
    CFOIL_CLASS_SYSTEM = 11
};

/* Exact causes. A retired value keeps its number for ever. */
enum {
    CFOIL_OK = 0,
    CFOIL_E_ARGUMENT_NULL = 0x0101,        /* a pointer that must not be NULL is NULL */
    CFOIL_E_ARGUMENT_STRUCT_SIZE = 0x0201, /* struct_size is not set, or the unknown tail is not zero */
    CFOIL_E_ARGUMENT_RANGE = 0x0301,       /* a number is outside its documented range */
    CFOIL_E_ARGUMENT_TEXT = 0x0401,        /* a text is empty, too long or not UTF-8 */
    CFOIL_E_ARGUMENT_BUFFER = 0x0501,      /* the buffer is too small; see the needed size */
    CFOIL_E_ARGUMENT_HANDLE = 0x0601,      /* not a handle of this kind */
    CFOIL_E_ARGUMENT_PORT = 0x0701,        /* the port string is not understood */
    CFOIL_E_ARGUMENT_ADAPTER = 0x0801,     /* the adapter table is not valid */
    CFOIL_E_ARGUMENT_SETTING = 0x0901,     /* an adapter setting is unknown or has a bad value */
    CFOIL_E_ARGUMENT_PATH = 0x0a01,        /* the path of an adapter file names no folder */
    CFOIL_E_STATE_STALE = 0x0102,          /* the handle is closed */
    CFOIL_E_STATE_SHUTDOWN = 0x0202,       /* the context is shutting down */
    CFOIL_E_STATE_NOT_READY = 0x0302,      /* the device is not ready for this command */
    CFOIL_E_STATE_NO_NOTE = 0x0402,        /* no note of that presentation is held */
    CFOIL_E_STATE_CASE_ENDED = 0x0502,     /* the case has its disposition already */
    CFOIL_E_STATE_REPLAY = 0x0602,         /* a replay takes its commands from the trace */
    CFOIL_E_STATE_NO_LEDGER = 0x0702,      /* the case was opened without a ledger */
    CFOIL_E_STATE_EXISTS = 0x0802,         /* that name or id is in use */
    CFOIL_E_STATE_CLOSING = 0x0902,        /* the handle was closed while the call waited */
    CFOIL_E_STATE_NO_CHECK = 0x0b02,       /* the case asks for no check now */
    CFOIL_E_STATE_SIGNED_OUT = 0x0a02,     /* nobody is signed in, or the time of the session is over */
    CFOIL_E_STATE_STOPPED = 0x0c02,        /* a function of the host did not go on */
    CFOIL_E_MEMORY = 0x0103,
    CFOIL_E_TIME_OUT = 0x0104,
    CFOIL_E_PORT_MISSING = 0x0105,   /* no such port, host or file */
    CFOIL_E_PORT_BUSY = 0x0205,      /* another program has it */
    CFOIL_E_PORT_DENIED = 0x0305,    /* no permission */
    CFOIL_E_PORT_GONE = 0x0405,      /* it was there and has gone: unplugged or disconnected */
    CFOIL_E_PORT_SETTINGS = 0x0505,  /* the port cannot do the line settings */
    CFOIL_E_PORT_FAILED = 0x0605,    /* another failure of the operating system's port */
    CFOIL_E_PORT_ENDED = 0x0705,     /* a replayed trace is at its end */
    CFOIL_E_PORT_STALLED = 0x0805,   /* the USB device stopped an endpoint */
    CFOIL_E_PORT_TIME_OUT = 0x0905,  /* the USB device takes or answers nothing */
    CFOIL_E_PORT_OVERFLOW = 0x0a05,  /* the USB device sent more than its descriptor allows */
    CFOIL_E_PORT_AMBIGUOUS = 0x0b05, /* more than one USB device is meant: name the serial number */
    CFOIL_E_DEVICE_SILENT = 0x0106,  /* no answer */
    CFOIL_E_DEVICE_WRONG = 0x0206,   /* an answer, but from another kind of device */
    CFOIL_E_DEVICE_REFUSED = 0x0306,
    CFOIL_E_DEVICE_FAULT = 0x0406, /* the device reports a fault of its own */
    CFOIL_E_DEVICE_FRAME = 0x0506, /* damaged or impossible frames */
    CFOIL_E_DEVICE_NOTES = 0x0606, /* no note type with a known value: set the currency */
    CFOIL_E_DATA_FILE = 0x0107,    /* the file cannot be read or written */
    CFOIL_E_DATA_SYNTAX = 0x0207,  /* not JSON, not UTF-8, too deep, or a key twice */
    CFOIL_E_DATA_SCHEMA = 0x0307,  /* JSON, but not what the format asks for */
    CFOIL_E_DATA_SIZE = 0x0407,    /* larger than the format allows */
    CFOIL_E_DATA_TRACE = 0x0507,   /* the trace file is not valid, or the replay departs from it */
    CFOIL_E_DATA_LIBRARY = 0x0607, /* the system's loader does not take the adapter file */
    CFOIL_E_DATA_ENTRY = 0x0707,   /* the shared library has no adapter entry */
    CFOIL_E_DATA_VERSION = 0x0807, /* the adapter was built for another version of adapter.h */
    CFOIL_E_DATA_CHAIN = 0x0907,   /* the ledger that is imported is not whole and unaltered */
    CFOIL_E_LEDGER_OPEN = 0x0108,
    CFOIL_E_LEDGER_BUSY = 0x0208, /* another process holds the ledger; try again */
    CFOIL_E_LEDGER_FULL = 0x0308, /* no room on the disk */
    CFOIL_E_LEDGER_READ_ONLY = 0x0408,
    CFOIL_E_LEDGER_DAMAGED = 0x0508, /* the file or the chain is damaged */
    CFOIL_E_LEDGER_NEWER = 0x0608,   /* written by a newer version of the library */
    CFOIL_E_LEDGER_FAILED = 0x0708,
    CFOIL_E_LEDGER_RIGHTS = 0x0808,      /* others have rights on the file */
    CFOIL_E_LEDGER_BACKUP = 0x0908,      /* no copy of an older file can be made beside it */
    CFOIL_E_LEDGER_KEY = 0x0a08,         /* the key file is not this ledger's, or cannot be used */
    CFOIL_E_LEDGER_KEY_MISSING = 0x0b08, /* the ledger knows a key, and its key file is not there */
    CFOIL_E_RULE_REFUSED = 0x0109,       /* the note was refused: it cannot be taken any more */
    CFOIL_E_RULE_ADVICE = 0x0209,        /* the advice is not to take it; only a named override may */
    CFOIL_E_RULE_DISPOSITION = 0x0309,   /* the jurisdiction does not offer this disposition */
    CFOIL_E_RULE_CUSTODY = 0x0409,       /* the note is not where this move begins, or the move lacks something */
    CFOIL_E_RULE_ROLE = 0x0509,          /* this person's role does not allow it */
    CFOIL_E_RULE_SECOND = 0x0609,        /* a second person must confirm it */
    CFOIL_E_RULE_PIN = 0x0709,           /* the staff code or the PIN is not right */
    CFOIL_E_RULE_LOCKED = 0x0809,        /* too many wrong PINs: not before the time told */
    CFOIL_E_RULE_PERIOD = 0x0909,        /* nothing says how long these personal data may be kept */
    CFOIL_E_MISSING_ADAPTER = 0x010a,
    CFOIL_E_MISSING_PACK = 0x020a, /* no pack for that currency */
    CFOIL_E_MISSING_NOTE = 0x030a, /* the pack has no such denomination or series */
    CFOIL_E_MISSING_CHECK = 0x040a,
    CFOIL_E_MISSING_ENTRY = 0x050a,
    CFOIL_E_MISSING_JURISDICTION = 0x060a,
    CFOIL_E_MISSING_LANGUAGE = 0x070a, /* no texts in that language */
    CFOIL_E_MISSING_MESSAGE = 0x080a,  /* no message has that key */
    CFOIL_E_MISSING_CASE = 0x090a,     /* the ledger has no such case */
    CFOIL_E_SYSTEM_THREAD = 0x010b,
    CFOIL_E_SYSTEM_OS = 0x020b
};

/* What the caller may do next (cfoil_result_action). */
enum {
    CFOIL_ACTION_NONE = 0,     /* success: go on */
    CFOIL_ACTION_RETRY = 1,    /* call again later, unchanged */
    CFOIL_ACTION_REOPEN = 2,   /* close the handle and open it again */
    CFOIL_ACTION_FIX_CALL = 3, /* the program or its input must change */
    CFOIL_ACTION_OPERATOR = 4, /* a person must look at the device, port, disk or note */
    CFOIL_ACTION_STOP = 5      /* nothing more can be done here; stop using the handle */
};

/* ---- The words of the model --------------------------------------------------------------------------------- */

/* What an event tells (cfoil_event.kind). Unknown values must be tolerated. */
enum {
    CFOIL_KIND_NONE = 0,
    CFOIL_KIND_HELD = 1,        /* a note of known value is held in escrow; no money yet */
    CFOIL_KIND_STACKED = 2,     /* a note went to the cash box: this alone is money */
    CFOIL_KIND_RETURNED = 3,    /* a held note went back to the customer */
    CFOIL_KIND_REJECTED = 4,    /* the device did not take the note */
    CFOIL_KIND_DEVICE = 5,      /* the state of the device changed */
    CFOIL_KIND_LOST_EVENTS = 6, /* events are known to be missing: reconcile by hand */
    CFOIL_KIND_LANE_STATE = 7   /* the lane itself changed state */
};

/* Why the device did not take a note: the class of the reason. */
enum {
    CFOIL_REASON_NONE = 0,
    CFOIL_REASON_AUTHENTICITY = 1,   /* a feature was missing, out of tolerance or could not be confirmed */
    CFOIL_REASON_NOT_RECOGNISED = 2, /* no note that the device knows */
    CFOIL_REASON_HANDLING = 3,       /* folded, skewed, double, pulled: feeding and transport */
    CFOIL_REASON_NOT_ENABLED = 4,    /* the device was told not to take it */
    CFOIL_REASON_DEVICE = 5,         /* the device's own condition */
    CFOIL_REASON_TAMPERING = 6       /* the device believes somebody interfered with it */
};

/* What the machine senses. UNKNOWN is an honest answer: the device did not say. */
enum {
    CFOIL_CHANNEL_UNKNOWN = 0,
    CFOIL_CHANNEL_IMAGE = 1,
    CFOIL_CHANNEL_ULTRAVIOLET = 2,
    CFOIL_CHANNEL_INFRARED = 3,
    CFOIL_CHANNEL_MAGNETIC = 4,
    CFOIL_CHANNEL_THREAD = 5,
    CFOIL_CHANNEL_SIZE = 6,
    CFOIL_CHANNEL_THICKNESS = 7,
    CFOIL_CHANNEL_TRANSPORT = 8
};

/* How strongly a finding speaks. */
enum {
    CFOIL_STRENGTH_NONE = 0,
    CFOIL_STRENGTH_WEAK = 1,  /* a wide set of causes */
    CFOIL_STRENGTH_CLEAR = 2, /* the device names the channel */
    CFOIL_STRENGTH_STRONG = 3 /* the device names the channel and says it is clearly out of tolerance */
};

/* Where a finding comes from. */
enum { CFOIL_ORIGIN_DEVICE = 1, CFOIL_ORIGIN_PERSON = 2, CFOIL_ORIGIN_LIBRARY = 3 };

/* The condition that a DEVICE or LOST_EVENTS event reports. */
enum {
    CFOIL_CONDITION_NONE = 0,
    CFOIL_CONDITION_RESTARTED = 1,     /* the device was reset or lost power */
    CFOIL_CONDITION_JAM_REACHABLE = 2, /* jammed where the customer may reach the note */
    CFOIL_CONDITION_JAM_SAFE = 3,      /* jammed out of the customer's reach */
    CFOIL_CONDITION_STACKER_REMOVED = 4,
    CFOIL_CONDITION_STACKER_IN_PLACE = 5,
    CFOIL_CONDITION_STACKER_FULL = 6,
    CFOIL_CONDITION_FAULT = 7, /* a mechanical, sensor or memory fault; see raw_text */
    CFOIL_CONDITION_FAULT_CLEARED = 8,
    CFOIL_CONDITION_TAMPERING = 9,
    CFOIL_CONDITION_UNKNOWN_NOTE_STACKED = 10, /* money of unknown value is in the box: count by hand */
    CFOIL_CONDITION_UNKNOWN_CODE = 11,         /* a code the tables do not have; never money */
    CFOIL_CONDITION_BARCODE = 12,              /* a printed ticket, not a note */
    CFOIL_CONDITION_LINE_NOISY = 13,           /* damaged frames on the line */
    CFOIL_CONDITION_COUNTER_GAP = 14,          /* the device's event counter jumped: events were lost there */
    CFOIL_CONDITION_QUEUE_OVERFLOW = 15,       /* the host did not fetch events in time: events were dropped here */
    CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT = 16,  /* a reset may have hidden a stacked note: count the box */
    CFOIL_CONDITION_OUTCOME_UNKNOWN = 17,      /* a held note's fate is not known: look, count by hand */
    CFOIL_CONDITION_LEDGER_FAILING = 18,       /* events cannot be recorded; the lane stops accepting notes */
    CFOIL_CONDITION_IDENTIFIED = 19            /* device identity read; see text */
};

/* State of a lane. */
enum {
    CFOIL_LANE_OPENING = 1,   /* waiting for the port */
    CFOIL_LANE_STARTING = 2,  /* talking to the device, not ready yet */
    CFOIL_LANE_IDLE = 3,      /* ready, accepting no notes */
    CFOIL_LANE_ACCEPTING = 4, /* ready and accepting notes */
    CFOIL_LANE_FAULT = 5,     /* the device needs a person */
    CFOIL_LANE_LOST = 6,      /* no answer, or the port has gone; trying again */
    CFOIL_LANE_ENDED = 7      /* finished for good: closed, wrong device, or end of a trace */
};

/* Which notes a lane lets the device take (cfoil_lane_options.accept). */
enum {
    CFOIL_ACCEPT_NONE = 0, /* everything inhibited */
    CFOIL_ACCEPT_HOLD = 1, /* hold each good note in escrow until the host decides */
    CFOIL_ACCEPT_ALL = 2   /* stack each good note at once */
};

/* Senses of a manual check. */
enum {
    CFOIL_SENSE_FEEL = 1,
    CFOIL_SENSE_LOOK = 2, /* includes holding the note against light */
    CFOIL_SENSE_TILT = 3,
    CFOIL_SENSE_TOOL = 4
};

/* Tools at hand (bit mask, cfoil_case_options.tools). Light and fingers are always there. */
enum { CFOIL_TOOL_MAGNIFIER = 1, CFOIL_TOOL_UV_A = 2, CFOIL_TOOL_RULER = 4, CFOIL_TOOL_KNOWN_NOTE = 8 };

/* What this cashier, or this place, does without (bit mask, cfoil_case_options.without): checks that need it are not
 * asked. */
enum {
    CFOIL_WITHOUT_BACK_LIGHT = 1,    /* no light that a note can be held against */
    CFOIL_WITHOUT_COLOUR_VISION = 2, /* colours cannot be told apart */
    CFOIL_WITHOUT_BOTH_HANDS = 4     /* the note cannot be felt and tilted freely */
};

/* Answers to a check. */
enum {
    CFOIL_ANSWER_AS_IT_SHOULD_BE = 1,
    CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE = 2,
    CFOIL_ANSWER_CANNOT_TELL = 3 /* never counts as a pass */
};

/* What a step asks for (cfoil_step.kind). */
enum { CFOIL_STEP_CHECK = 1, CFOIL_STEP_ADVICE = 2 };

/* What to do now (cfoil_step.advice). */
enum {
    CFOIL_ADVICE_NONE = 0,
    CFOIL_ADVICE_TAKE = 1,         /* nothing is left in doubt that a cashier can check */
    CFOIL_ADVICE_ASK_ANOTHER = 2,  /* do not take it; ask politely for another note */
    CFOIL_ADVICE_SET_ASIDE = 3,    /* do not take it; act as the jurisdiction says */
    CFOIL_ADVICE_FEED_AGAIN = 4,   /* unfold, turn, feed once more: no doubt about the note */
    CFOIL_ADVICE_CHECK_MACHINE = 5 /* the machine, not the note, needs attention */
};

/* How a case ends. */
enum {
    CFOIL_DISPOSITION_NONE = 0,
    CFOIL_DISPOSITION_TAKEN = 1,     /* taken as payment */
    CFOIL_DISPOSITION_NOT_TAKEN = 2, /* not taken, left with the customer */
    CFOIL_DISPOSITION_SET_ASIDE = 3, /* kept apart, never in the till, as the jurisdiction allows */
    CFOIL_DISPOSITION_ABANDONED =
        4 /* no doubt came to a decision: fed again, customer paid otherwise, machine at fault */
};

/* What happens to a doubtful note that a shop keeps (docs/custody.md). There is no move that puts one back among the
 * money, and none that hands back what was taken as payment once. */
enum {
    CFOIL_CUSTODY_FIND = 1,        /* a note was found in the till or in a bundle: a case without a customer */
    CFOIL_CUSTODY_SEAL = 2,        /* into a numbered envelope, or into another one */
    CFOIL_CUSTODY_CARRY = 3,       /* to another place or another keeper in the shop */
    CFOIL_CUSTODY_HAND_OVER = 4,   /* to a bank, the police or the central bank, against a receipt */
    CFOIL_CUSTODY_GENUINE = 5,     /* it came back as genuine */
    CFOIL_CUSTODY_NOT_GENUINE = 6, /* the authority found it not genuine */
    CFOIL_CUSTODY_LOSE = 7,        /* it is not where it should be */
    CFOIL_CUSTODY_GIVE_BACK = 8    /* for somebody's safety, before it was ever taken as payment */
};

/* Who takes a note over. */
enum { CFOIL_HOLDER_BANK = 1, CFOIL_HOLDER_POLICE = 2, CFOIL_HOLDER_CENTRAL_BANK = 3 };

/* What a person may do (table in docs/custody.md). */
enum {
    CFOIL_ROLE_NONE = 0, /* does not work here any more */
    CFOIL_ROLE_CASHIER = 1,
    CFOIL_ROLE_SUPERVISOR = 2,
    CFOIL_ROLE_AUDITOR = 3
};

/* What cfoil_ledger_sign() signs. */
enum {
    CFOIL_SIGN_CHECKPOINT = 1, /* the newest entry */
    CFOIL_SIGN_NEW_KEY = 2     /* a new key of the store; in a ledger without one, its first */
};

/* What cfoil_ledger_list_json() lists. */
enum {
    CFOIL_LIST_OPEN_CASES = 1, /* cases that have not ended, newest last; only: a lane */
    CFOIL_LIST_CUSTODY = 2,    /* doubtful notes and where they are; only: a state, or "held" */
    CFOIL_LIST_CASE = 3,       /* the entries of one case: its end and its custody; only: the case id, required */
    CFOIL_LIST_STAFF = 4,      /* staff codes and roles */
    CFOIL_LIST_SETTINGS = 5,   /* rules that the store has chosen */
    CFOIL_LIST_KEYS = 6        /* public keys that sign or have signed; only: a public key */
};

/* May a sale be completed as far as doubtful notes go (cfoil_tender_check)? */
enum {
    CFOIL_TENDER_FREE = 1,      /* no doubtful note belongs to it, or only such as were taken or came to no decision */
    CFOIL_TENDER_CASE_OPEN = 2, /* not yet: a case of this sale has not ended */
    CFOIL_TENDER_REFUSED = 3    /* only when it was paid by other means than the refused notes */
};

/* Whose rights on the ledger's file are accepted when it is opened for writing (cfoil_ledger_options.rights). */
enum {
    CFOIL_RIGHTS_OWNER = 0, /* only the owner's: the default */
    CFOIL_RIGHTS_GROUP = 1, /* the group's too: several accounts of one shop */
    CFOIL_RIGHTS_ANY = 2    /* anybody's: a file system that knows no rights, or a test */
};

/* ---- Handles ------------------------------------------------------------------------------------------------- */

typedef struct cfoil_context cfoil_context; /* everything of one host; no state lives outside it */
typedef struct cfoil_lane cfoil_lane;       /* one validator and the thread that serves it */
typedef struct cfoil_case cfoil_case;       /* the handling of one doubtful note */
typedef struct cfoil_ledger cfoil_ledger;   /* the durable store */
typedef struct cfoil_session cfoil_session; /* a person who has given the PIN, for a while */

/* ---- Structs ------------------------------------------------------------------------------------------------- */

/* The host's allocator. Both calls may come from any thread. `allocate` returns NULL when there is no memory.
 * SQLite, cJSON and libserialport keep using the C heap: their hooks are process-wide, and we change none. */
typedef struct cfoil_allocator {
    uint32_t struct_size;
    uint32_t reserved;
    void *user;
    void *(*allocate)(void *user, size_t size);
    void (*release)(void *user, void *memory);
} cfoil_allocator;
#define CFOIL_ALLOCATOR_INIT CFOIL_SIZED(cfoil_allocator)

/* Log levels. */
enum { CFOIL_LOG_ERROR = 1, CFOIL_LOG_WARNING = 2, CFOIL_LOG_NOTICE = 3, CFOIL_LOG_DEBUG = 4 };

/* One log record; borrowed for the call only. Holds no text typed by a person and no note's serial number. */
typedef struct cfoil_log_record {
    uint32_t struct_size;
    int32_t level;         /* CFOIL_LOG_* */
    int32_t result;        /* the result code it is about, or 0 */
    int32_t os_code;       /* the operating system's number, or 0 */
    uint64_t monotonic_us; /* microseconds on the lane's clock; 0 outside lanes */
    const char *area;      /* "lane", "transport", "ledger", an adapter's id, ... */
    const char *lane;      /* lane name or "" */
    const char *key;       /* short stable key, for filtering and translation */
    const char *text;      /* one English line */
} cfoil_log_record;

/* Called without any lock held; may call back into the library; must not close the handle it is called for. */
typedef void (*cfoil_log_function)(void *user, const cfoil_log_record *record);

typedef struct cfoil_context_options {
    uint32_t struct_size;
    int32_t log_level;                /* CFOIL_LOG_*; 0 = no log */
    const cfoil_allocator *allocator; /* NULL = the C heap; copied */
    cfoil_log_function log;           /* NULL = no log */
    void *log_user;
} cfoil_context_options;
#define CFOIL_CONTEXT_OPTIONS_INIT CFOIL_SIZED(cfoil_context_options)

/* The last failure on one handle. */
typedef struct cfoil_error_info {
    uint32_t struct_size;
    int32_t result;  /* CFOIL_E_* or CFOIL_OK when nothing failed yet */
    int32_t os_code; /* the operating system's number, or 0 */
    int32_t line;    /* line in a data file, or 0 */
    char area[16];   /* which part of the library */
    char text[256];  /* one English line that says what to do */
} cfoil_error_info;
#define CFOIL_ERROR_INFO_INIT CFOIL_SIZED(cfoil_error_info)

/* One normalised feature failure. */
typedef struct cfoil_finding {
    int32_t channel;  /* CFOIL_CHANNEL_* */
    int32_t strength; /* CFOIL_STRENGTH_* */
    int32_t origin;   /* CFOIL_ORIGIN_* */
    int32_t reserved;
} cfoil_finding;

#define CFOIL_FINDINGS_MAX 8
#define CFOIL_RAW_MAX      32

/* Flags of an event. */
enum {
    CFOIL_EVENT_WHILE_AWAY = 1, /* happened while the host or the line was away, read from the device's buffer */
    CFOIL_EVENT_RECORDED = 2    /* in the ledger; `entry` is its number */
};

/* One event of a lane. */
typedef struct cfoil_event {
    uint32_t struct_size;
    int32_t kind;          /* CFOIL_KIND_* */
    uint64_t sequence;     /* 1, 2, 3, ... on this lane; a gap is explained by a LOST_EVENTS event */
    uint64_t presentation; /* number of the presentation on this lane, 0 = none */
    int64_t time_utc_ms;
    uint64_t monotonic_us;     /* on the lane's clock */
    int64_t value_minor;       /* minor units; meaningful when currency[0] is not 0 */
    int64_t entry;             /* ledger entry number, 0 = not recorded */
    int32_t note_type;         /* the device's own number of the note type, 0 = none */
    int32_t reason;            /* CFOIL_REASON_*: the class to act on */
    uint32_t reasons_possible; /* bit mask of 1u << CFOIL_REASON_*: everything the code may mean */
    int32_t condition;         /* CFOIL_CONDITION_* */
    int32_t lane_state;        /* CFOIL_LANE_* after this event */
    int32_t result;            /* why the lane changed state, or 0 */
    uint32_t lost_count;       /* LOST_EVENTS: how many, 0 = unknown */
    uint32_t flags;            /* CFOIL_EVENT_* */
    uint32_t finding_count;    /* 0..CFOIL_FINDINGS_MAX */
    uint32_t raw_length;       /* 0..CFOIL_RAW_MAX */
    cfoil_finding findings[CFOIL_FINDINGS_MAX];
    uint8_t raw[CFOIL_RAW_MAX]; /* the device's bytes for this event, unchanged */
    char currency[4];           /* ISO 4217 or "" */
    char note_name[20];         /* the device's own name of the note type, or "" */
    char raw_text[72];          /* the raw code in the protocol's terms */
    char text[160];             /* one English line */
} cfoil_event;
#define CFOIL_EVENT_INIT CFOIL_SIZED(cfoil_event)

typedef struct cfoil_lane_options {
    uint32_t struct_size;
    int32_t accept;          /* CFOIL_ACCEPT_*; default none */
    const char *name;        /* 1..32 bytes, unique in the context; NULL = "lane" */
    const char *adapter;     /* adapter id, for example "cctalk"; required: nothing is written to a port otherwise */
    const char *port;        /* "serial:DEVICE", "tcp:HOST:PORT", "trace:FILE" or "usb:VID:PID...": docs/hardware.md */
    const char *record_path; /* write a trace to this file (must not exist yet); NULL = none */
    const char *settings;    /* adapter settings "key=value;key=value"; NULL = defaults; docs/adapters.md */
    cfoil_ledger *ledger;    /* record every presentation here; NULL = no record. Keep it open until the lane closed */
    uint32_t queue_length;   /* events kept for the host, 8..65536; 0 = 256 */
    uint32_t reconnect_ms;   /* longest pause between attempts to reopen, 100..60000; 0 = 5000; serial: and usb: 2000 */
} cfoil_lane_options;
#define CFOIL_LANE_OPTIONS_INIT CFOIL_SIZED(cfoil_lane_options)

/* What cfoil_devices_json() may do besides listing. */
typedef struct cfoil_devices_options {
    uint32_t struct_size;
    uint32_t wait_ms;        /* to listen, or to wait for an answer, for each adapter; 0 = 2000, at most 10000 */
    const char *listen_port; /* open this port and listen, writing nothing; NULL = none */
    const char *probe_port;  /* let each adapter that fits ask on this port for its device; NULL = none */
} cfoil_devices_options;
#define CFOIL_DEVICES_OPTIONS_INIT CFOIL_SIZED(cfoil_devices_options)

typedef struct cfoil_case_options {
    uint32_t struct_size;
    uint32_t tools;           /* bit mask of CFOIL_TOOL_* at hand */
    cfoil_ledger *ledger;     /* where the disposition is recorded; NULL = guidance only */
    const char *currency;     /* ISO 4217; required */
    int64_t value_minor;      /* denomination in minor units; required, > 0 */
    const char *series;       /* pack's series id, NULL = the newest the denomination has */
    const char *jurisdiction; /* "DE", ...; NULL = cautious common ground */
    const char *lane;         /* lane name for the record, NULL = "" */
    const char *sale;         /* the host's sale number, up to 64 bytes, NULL = "" */
    const char *staff;        /* staff code, up to 32 bytes, NULL = "" */
    uint32_t check_limit;     /* most checks asked, 3..12; 0 = 6 */
    uint32_t reserved;
    const char *language;   /* of all texts of the case: "de", "hi", "de-AT", ... (BCP 47, up to 16 bytes; case does not
                               matter); NULL or "" = "en". A text is looked for in the language, then in the language
                               before its last '-', then in English (RFC 4647 section 3.4), one by one. The names of
                               sources stay as they are. None known at all: CFOIL_E_MISSING_LANGUAGE */
    uint32_t without;       /* bit mask of CFOIL_WITHOUT_* */
    uint32_t seconds_limit; /* no new check is asked after so many seconds, 10..600; 0 = 90 */
    int64_t today_utc_ms;   /* the day on which a note may be withdrawn already; 0 = the system's clock */
} cfoil_case_options;
#define CFOIL_CASE_OPTIONS_INIT CFOIL_SIZED(cfoil_case_options)

/* What to ask or advise now. The texts are borrowed from the case and stay valid until the next call on that case. */
typedef struct cfoil_step {
    uint32_t struct_size;
    int32_t kind;          /* CFOIL_STEP_* */
    int32_t advice;        /* CFOIL_ADVICE_*, when kind is ADVICE */
    int32_t sense;         /* CFOIL_SENSE_*, when kind is CHECK */
    int32_t side;          /* 1 front, 2 back, 0 whole note */
    uint32_t number;       /* this is check number 1.. */
    uint32_t number_max;   /* at most so many are asked */
    uint32_t dispositions; /* bit mask of 1u << CFOIL_DISPOSITION_* that are offered now */
    int32_t box_known;     /* 1 = the four numbers below are set */
    int32_t left_permille; /* of the note's length, from the left of the side named */
    int32_t top_permille;  /* of the note's height, from the top */
    int32_t right_permille;
    int32_t bottom_permille;
    int32_t reserved;
    const char *check;       /* id of the check, "" for advice */
    const char *title;       /* one short line */
    const char *instruction; /* what to do */
    const char *expected;    /* CHECK: how it should be */
    const char *doubtful;    /* CHECK: what would not be as it should be */
    const char *hint;        /* CHECK: a trap to keep in mind, or "" */
    const char *say;         /* ADVICE: words for the customer, or "" */
    const char *reasons;     /* ADVICE: why, in words */
    const char *caution;     /* the safety caution to show */
    const char *source;      /* where the fact comes from, with its confidence */
    const char *where;       /* CHECK: where on the note and how, in words; the text alternative of the picture */
} cfoil_step;
#define CFOIL_STEP_INIT CFOIL_SIZED(cfoil_step)

typedef struct cfoil_disposition_options {
    uint32_t struct_size;
    int32_t disposition;      /* CFOIL_DISPOSITION_* */
    const char *envelope;     /* number of the sealed envelope, SET_ASIDE only, up to 32 bytes; NULL = "" */
    const char *override_by;  /* TAKEN against the advice: who decided, up to 32 bytes; NULL = nobody */
    const char *override_why; /* and why, up to 200 bytes */
    cfoil_session *session;   /* a supervisor's: an override needs one in a ledger with staff codes; else NULL */
} cfoil_disposition_options;
#define CFOIL_DISPOSITION_OPTIONS_INIT CFOIL_SIZED(cfoil_disposition_options)

/* Proof of a ledger entry. */
typedef struct cfoil_record {
    uint32_t struct_size;
    int32_t disposition; /* CFOIL_DISPOSITION_* or 0 */
    int64_t entry;       /* number of the entry */
    int64_t time_utc_ms;
    char case_id[40]; /* UUID of the case, RFC 9562 text form */
    char hash[68];    /* SHA-256 of the entry, 64 hexadecimal digits */
} cfoil_record;
#define CFOIL_RECORD_INIT CFOIL_SIZED(cfoil_record)

/* How a serial number's check figure came out. */
enum {
    CFOIL_CHECKSUM_NONE = 0,   /* the currency has none, or the format is wrong */
    CFOIL_CHECKSUM_FITS = 1,   /* says only that it was read well: copies reuse real serial numbers */
    CFOIL_CHECKSUM_DIFFERS = 2 /* read it again */
};

typedef struct cfoil_serial {
    uint32_t struct_size;
    int32_t format_known; /* 1 = one of the currency's formats */
    int32_t checksum;     /* CFOIL_CHECKSUM_* */
    int32_t seen_refused; /* cfoil_case_serial_set: 1 = the ledger holds a refusal of this serial number */
    char normalised[32];  /* capitals, no blanks */
    char series[16];      /* series id that the format belongs to, or "" */
    char issuer[96];      /* what the prefix stands for, or "" */
    char text[256];       /* one English line */
    int32_t seen_open;    /* cfoil_case_serial_set: 1 = another case that has not ended holds this serial number */
    int32_t reserved;
} cfoil_serial;
#define CFOIL_SERIAL_INIT CFOIL_SIZED(cfoil_serial)

typedef struct cfoil_ledger_options {
    uint32_t struct_size;
    uint32_t busy_ms;  /* longest wait for another process, 0..60000; 0 = 5000 */
    const char *path;  /* the file; required */
    const char *store; /* name of the store in a new ledger, up to 64 bytes; NULL = "" */
    int32_t read_only; /* 1 = only read */
    int32_t rights;    /* CFOIL_RIGHTS_*: whose rights on the file are accepted; not looked at when only reading */
    int32_t checkpoint_entries; /* a signed checkpoint after each so many entries and at closing; 0 = 500, -1 = none */
    int32_t reserved;
} cfoil_ledger_options;
#define CFOIL_LEDGER_OPTIONS_INIT CFOIL_SIZED(cfoil_ledger_options)

typedef struct cfoil_ledger_check {
    uint32_t struct_size;
    int32_t intact;    /* 1 = every entry is in its place and unaltered */
    int64_t entries;   /* entries read */
    int64_t first_bad; /* number of the first entry that is wrong, 0 = none */
    char head[68];     /* hash of the last good entry */
    char text[256];    /* one English line */
    /* Set before the call, for what the file cannot tell by itself: */
    const char *trusted_key; /* a public key of the store that was noted elsewhere, 64 hex digits; NULL = none */
    const char *noted_hash;  /* the hash of an entry that was noted elsewhere, 64 hex digits; NULL = none */
    int64_t noted_entry;     /* the number of that entry */
    /* Written: */
    int64_t signed_until; /* the last entry that a signature of the store's key vouches for; 0 = none */
    int64_t checkpoints;  /* signed checkpoints that are right */
    char key[68];         /* the public key that signed last, "" = none */
} cfoil_ledger_check;
#define CFOIL_LEDGER_CHECK_INIT CFOIL_SIZED(cfoil_ledger_check)

/* One step of a note's custody. Texts are UTF-8 without control characters; NULL = "". */
typedef struct cfoil_custody_options {
    uint32_t struct_size;
    int32_t move;                  /* CFOIL_CUSTODY_* */
    const char *case_id;           /* the case; NULL with FIND, which begins one */
    const char *staff;             /* who does it, up to 32 bytes; in a ledger with staff codes NULL: see session */
    cfoil_session *session;        /* in a ledger with staff codes: who is signed in */
    const char *second;            /* a second person who confirms it, as staff; NULL = nobody */
    cfoil_session *second_session; /* in a ledger with staff codes: the second person's session */
    const char *envelope;          /* SEAL: number of the envelope, up to 32 bytes */
    const char *place;             /* FIND, CARRY: where it is now, up to 64 bytes; else where it goes, or NULL */
    const char *keeper;            /* who keeps it, or which office took it over, up to 64 bytes */
    const char *receipt;           /* HAND_OVER: number of the receipt or report, up to 64 bytes */
    const char *why;               /* reason or note, up to 200 bytes; no names of customers */
    int32_t holder;                /* HAND_OVER: CFOIL_HOLDER_* */
    int32_t reserved;
    int64_t happened_utc_ms; /* when it happened, 0 = now; not in the future */
    int64_t value_minor;     /* FIND: value of the note */
    const char *currency;    /* FIND: ISO 4217 */
    const char *serial;      /* FIND: serial number, up to 32 bytes, capitals and no blanks; NULL = not read */
    const char *lane;        /* FIND: lane or till where it was found, up to 32 bytes; NULL = not known */
} cfoil_custody_options;
#define CFOIL_CUSTODY_OPTIONS_INIT CFOIL_SIZED(cfoil_custody_options)

/* What the doubtful notes of a sale mean for its end. */
typedef struct cfoil_tender {
    uint32_t struct_size;
    int32_t verdict;       /* CFOIL_TENDER_* */
    uint32_t open;         /* cases of this sale that have not ended, in any process */
    uint32_t refused;      /* notes of this sale that were not taken or set aside */
    uint32_t taken;        /* notes that were taken after a case */
    uint32_t no_decision;  /* cases that ended without one */
    int64_t refused_minor; /* what the refused notes would have been worth, when they are of one currency; else 0 */
    char currency[4];      /* of refused_minor, or "" */
    char case_id[40];      /* the case to look at first: the newest open one, else the newest refused one, or "" */
    char text[256];        /* one English line for the host */
} cfoil_tender;
#define CFOIL_TENDER_INIT CFOIL_SIZED(cfoil_tender)

/* The count of kept notes at the end of a shift. */
typedef struct cfoil_reconcile_options {
    uint32_t struct_size;
    uint32_t reserved;
    const char *envelopes; /* JSON: the numbers that were counted, for example ["E 7","E 8"]; required */
    int64_t from_utc_ms;   /* only notes that are where they are since then; 0 = all */
    int64_t until_utc_ms;  /* and before then; 0 = until now */
} cfoil_reconcile_options;
#define CFOIL_RECONCILE_OPTIONS_INIT CFOIL_SIZED(cfoil_reconcile_options)

/* Formats of a report. */
enum { CFOIL_FORMAT_JSON = 1, CFOIL_FORMAT_TEXT = 2, CFOIL_FORMAT_CSV = 3, CFOIL_FORMAT_HTML = 4 };

typedef struct cfoil_report_options {
    uint32_t struct_size;
    int32_t format;       /* CFOIL_FORMAT_*; 0 = JSON */
    int64_t from_utc_ms;  /* first moment included; 0 = the beginning */
    int64_t until_utc_ms; /* first moment not included; 0 = now and later */
    const char *lane;     /* only this lane; NULL = all */
    const char *store;    /* the store that the ledger must be of, up to 64 bytes; NULL = any */
} cfoil_report_options;
#define CFOIL_REPORT_OPTIONS_INIT CFOIL_SIZED(cfoil_report_options)

/* Forms of an export (docs/exchange.md). */
enum {
    CFOIL_EXPORT_JSON_LINES = 1, /* every entry, a JSON document a line; the first line describes the export */
    CFOIL_EXPORT_CSV = 2         /* one table, RFC 4180 */
};

/* The tables of an export as CSV. */
enum { CFOIL_TABLE_PRESENTATIONS = 1, CFOIL_TABLE_CASES = 2, CFOIL_TABLE_CUSTODY = 3 };

/* Takes a piece of an export; `bytes` are borrowed for the call. CFOIL_OK goes on, anything else ends the export. Called
 * on the thread of the exporting call without any lock held; may call the library, must not close the ledger. */
typedef int32_t (*cfoil_write_function)(void *user, const char *bytes, size_t length);

typedef struct cfoil_export_options {
    uint32_t struct_size;
    int32_t format;             /* CFOIL_EXPORT_*; 0 = JSON Lines */
    int64_t from_utc_ms;        /* first moment included; 0 = the beginning */
    int64_t until_utc_ms;       /* first moment not included; 0 = now and later */
    cfoil_write_function write; /* required */
    void *user;                 /* handed to `write` */
    int32_t table;              /* CSV: CFOIL_TABLE_*; 0 = presentations */
    int32_t reserved;
} cfoil_export_options;
#define CFOIL_EXPORT_OPTIONS_INIT CFOIL_SIZED(cfoil_export_options)

/* Papers (docs/papers.md). */
enum {
    CFOIL_PAPER_RECEIPT = 1,   /* for the customer whose note was refused */
    CFOIL_PAPER_LABEL = 2,     /* for the envelope of a kept note */
    CFOIL_PAPER_HAND_OVER = 3, /* for bank, police or central bank */
    CFOIL_PAPER_PERIOD = 4     /* refused and kept notes of a month, or of any period */
};

/* Formats of a paper. A printer that cannot print the letters of a language needs HTML, drawn by the host. */
enum {
    CFOIL_PAPER_PLAIN_42 = 1, /* lines of at most 42 places, Unicode's wide characters count two and its marks none */
    CFOIL_PAPER_PLAIN_48 = 2,
    CFOIL_PAPER_HTML = 3 /* one page that needs nothing else; prints on A4 and on rolls of 80 mm */
};

typedef struct cfoil_paper_options {
    uint32_t struct_size;
    int32_t kind;               /* CFOIL_PAPER_* */
    int32_t format;             /* CFOIL_PAPER_PLAIN_42, ...; 0 = PLAIN_42 */
    int32_t utc_offset_minutes; /* of the times on the paper, -840..840, for example 330 in India */
    const char *case_id;        /* RECEIPT, LABEL: required. HAND_OVER: this note only, or NULL. PERIOD: NULL */
    int64_t from_utc_ms;        /* PERIOD: first moment included. HAND_OVER: see until_utc_ms. 0 = open */
    int64_t until_utc_ms;     /* first moment not included, 0 = open. HAND_OVER without case and without both: what the
                                   shop has in its hands; with one of them: what was handed over then */
    const char *language;     /* BCP 47, up to 16 bytes; NULL = English */
    const char *jurisdiction; /* whose rules are printed; NULL = those of the case, else the cautious common ground */
    const char *shop;         /* name and address, up to 200 bytes; NULL = the name of the store in the ledger */
} cfoil_paper_options;
#define CFOIL_PAPER_OPTIONS_INIT CFOIL_SIZED(cfoil_paper_options)

/* What a customer told about themselves, of their own free will and where local law allows it (docs/privacy.md). Texts are
 * UTF-8 without control characters; NULL or "" = not given, but one of the four is. */
typedef struct cfoil_person_options {
    uint32_t struct_size;
    uint32_t days;            /* erased after so many days, up to 36500; 0 = what the jurisdiction's pack says */
    cfoil_session *session;   /* a cashier's or a supervisor's; required */
    const char *case_id;      /* the case, open or ended; required */
    const char *jurisdiction; /* whose number of days; NULL = the cautious common ground. No built-in pack has one */
    const char *name;         /* up to 200 bytes */
    const char *contact;      /* up to 200 bytes */
    const char *id_shown;     /* which document was shown, up to 200 bytes */
    const char *note;         /* up to 400 bytes */
} cfoil_person_options;
#define CFOIL_PERSON_OPTIONS_INIT CFOIL_SIZED(cfoil_person_options)

/* Gives a piece of what is imported: up to `capacity` bytes from the place `offset` on, and in *length how many; 0 = the
 * end. CFOIL_OK goes on, anything else ends the import. A whole ledger is read twice, each time from the beginning. Called
 * on the thread of the importing call without any lock held; may call the library, must not close the ledger. */
typedef int32_t (*cfoil_read_function)(void *user, uint64_t offset, char *buffer, size_t capacity, size_t *length);

typedef struct cfoil_import_options {
    uint32_t struct_size;
    int32_t dry_run;          /* 1 = look at everything and take nothing */
    cfoil_read_function read; /* required */
    void *user;               /* handed to `read` */
    cfoil_session *session;   /* in a ledger with staff codes: a supervisor's */
    const char *staff;        /* who does it, in a ledger without staff codes, up to 32 bytes */
    uint32_t batch;           /* lines that are taken together, 1..100000; 0 = 4096 */
    int32_t reserved;
} cfoil_import_options;
#define CFOIL_IMPORT_OPTIONS_INIT CFOIL_SIZED(cfoil_import_options)

typedef struct cfoil_import_result {
    uint32_t struct_size;
    int32_t reserved;
    int64_t lines;    /* read, of the batches that were taken */
    int64_t taken;    /* records that became entries */
    int64_t there;    /* records that were there already */
    int64_t left_out; /* entries of kinds that stay with their ledger: its rules, staff, keys */
    int64_t bad_line; /* number of the line that is wrong, 0 = none */
    char text[256];   /* one English line */
} cfoil_import_result;
#define CFOIL_IMPORT_RESULT_INIT CFOIL_SIZED(cfoil_import_result)

/* One value that stands in a message (cfoil_message). */
typedef struct cfoil_argument {
    const char *name; /* as in the pattern, without braces */
    const char *text; /* NULL = `number` is meant */
    int64_t number;
} cfoil_argument;

struct cfoil_adapter; /* adapter.h */

/* ---- Version and results -------------------------------------------------------------------------------------- */

/**
 * Tell the version of the library that is loaded.
 *
 * @return      "MAJOR.MINOR.PATCH"; static text, never NULL
 * @ownership   borrowed for ever
 * @thread      any
 * @blocks      never
 * @since       0.1.0
 * @example     printf("%s\n", cfoil_version());
 */
CFOIL_API const char *cfoil_version(void);

/**
 * Explain a result code in one English line that says what to do.
 *
 * @param result  any value; an unknown one is explained by its class
 * @return        static text, never NULL
 * @ownership     borrowed for ever
 * @thread        any
 * @blocks        never
 * @since         0.1.0
 * @example       fprintf(stderr, "%s\n", cfoil_error_text(result));
 */
CFOIL_API const char *cfoil_error_text(int32_t result);

/**
 * Tell what the caller may do after a result code.
 *
 * @param result  any value
 * @return        CFOIL_ACTION_*; CFOIL_ACTION_STOP for a class the library does not know
 * @ownership     nothing passes
 * @thread        any
 * @blocks        never
 * @since         0.1.0
 * @example       if (cfoil_result_action(result) == CFOIL_ACTION_RETRY) again = 1;
 */
CFOIL_API int32_t cfoil_result_action(int32_t result);

/**
 * Read the last failure of one handle: code, system number, and one English line.
 *
 * @param handle  a context, lane, case or ledger; not NULL
 * @param info    struct_size set; the rest is written
 * @ownership     the caller owns `info`
 * @thread        any; with calls running together on one handle it tells the latest
 * @blocks        never
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_NULL, _STRUCT_SIZE or _HANDLE, CFOIL_E_STATE_STALE
 * @since         0.1.0
 * @example       cfoil_error_info info = CFOIL_ERROR_INFO_INIT; cfoil_error_read(lane, &info); puts(info.text);
 */
CFOIL_API int32_t cfoil_error_read(const void *handle, cfoil_error_info *info);

/* ---- Context -------------------------------------------------------------------------------------------------- */

/**
 * Make a context: the built-in packs and adapters are ready when it returns.
 *
 * @param options  NULL for the defaults, or struct_size set; copied
 * @param context  receives the handle; set to NULL on failure
 * @ownership      the caller owns the context; end it with cfoil_context_close()
 * @thread         any
 * @blocks         never; no device or disk is touched, and no pack is read before it is wanted
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_NULL or _STRUCT_SIZE, CFOIL_E_MEMORY, CFOIL_E_SYSTEM_OS
 * @since          0.1.0
 * @example        cfoil_context *context; if (cfoil_context_open(NULL, &context) != CFOIL_OK) return 1;
 */
CFOIL_API int32_t cfoil_context_open(const cfoil_context_options *options, cfoil_context **context);

/**
 * Close everything that was made from the context, then the context.
 *
 * @param context  NULL is harmless
 * @ownership      ends the context and every handle made from it, closed or not
 * @thread         any, once, and not from a log callback; no other call on the context or its handles may be running,
 *                 except waits, which are woken
 * @blocks         until lanes have stopped: at most 2 s each, normally some milliseconds; longer by the ledger's busy_ms
 *                 when another process holds it
 * @return         nothing
 * @since          0.1.0
 * @example        cfoil_context_close(context);
 */
CFOIL_API void cfoil_context_close(cfoil_context *context);

/**
 * Wake every waiting call of the context; from then on calls that would wait return CFOIL_E_STATE_SHUTDOWN.
 *
 * @param context  not NULL
 * @ownership      nothing passes; the context still has to be closed
 * @thread         any, also while others wait
 * @blocks         never
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_NULL or _HANDLE
 * @since          0.1.0
 * @example        cfoil_context_shutdown(context);
 */
CFOIL_API int32_t cfoil_context_shutdown(cfoil_context *context);

/* ---- Packs ---------------------------------------------------------------------------------------------------- */

/**
 * Add every *.json pack of a directory; a pack with the id of a known one replaces it. All or nothing.
 *
 * @param context    not NULL
 * @param directory  path, not NULL
 * @ownership        nothing passes
 * @thread           any; open cases keep the pack they began with
 * @blocks           for the reading of the files
 * @return           CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_DATA_*, CFOIL_E_MEMORY; cfoil_error_read() names file, path
 *                   and line of the first fault
 * @since            0.1.0
 * @example          cfoil_pack_directory_add(context, "/etc/shop/packs");
 */
CFOIL_API int32_t cfoil_pack_directory_add(cfoil_context *context, const char *directory);

/**
 * Check one pack file without loading it.
 *
 * @param context   not NULL
 * @param path      path of a JSON file of at most 1 MiB, not NULL
 * @param buffer    receives one English line: what the pack holds, or the first fault with path and line
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for the reading of the file
 * @return          CFOIL_OK when the pack is good, CFOIL_E_ARGUMENT_*, CFOIL_E_DATA_*, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         char line[512]; int32_t result = cfoil_pack_check(context, "my.json", line, sizeof line, NULL);
 */
CFOIL_API int32_t cfoil_pack_check(cfoil_context *context, const char *path, char *buffer, size_t capacity,
                                   size_t *needed);

/**
 * List what is loaded: packs (id, kind, version), denominations with their series, jurisdictions, adapters with
 * maturity and origin, as JSON (schema "counterfoil.catalogue/1").
 *
 * @param context   not NULL
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          never; the first call reads all built-in packs from memory, tens of milliseconds
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_catalogue_json(context, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_catalogue_json(cfoil_context *context, char *buffer, size_t capacity, size_t *needed);

/**
 * Write one message of the catalogue in a language, for a screen of the host: labels and questions as well as advice.
 * The keys are those of plugin/packs/messages-en.json; docs/packs.md says how a message is looked for and written.
 * The rules of a place have keys too: "jurisdiction.DE.found_later", and so on with title, date, source, ask_another, set_aside,
 * tell_whom, write_down, never, caution, deadline, law.1, law.2, ...; ".source" behind a rule or a law names its source.
 *
 * @param context         not NULL
 * @param language        as cfoil_case_options.language: NULL or "" = English
 * @param key             for example "till.ask.serial"; not NULL
 * @param arguments       what stands for the names in braces, in any order; one that is not given stays as {name}. The
 *                        library adds `review`: the day on which a native speaker reviewed the language, or "none"
 * @param argument_count  0..16
 * @param buffer          receives the text
 * @param capacity        bytes in `buffer`, 0 allowed
 * @param needed          receives the bytes needed, ending byte included; may be NULL
 * @ownership             the caller owns everything it passes
 * @thread                any
 * @blocks                never; the first call for a language reads its texts from memory, a few milliseconds
 * @return                CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_LANGUAGE or _MESSAGE, CFOIL_E_STATE_STALE
 * @since                 0.1.0
 * @example               cfoil_argument name = {"title", "Watermark", 0}; char line[200];
 *                        cfoil_message(context, "de", "till.back_to", &name, 1, line, sizeof line, NULL);
 */
CFOIL_API int32_t cfoil_message(cfoil_context *context, const char *language, const char *key,
                                const cfoil_argument *arguments, size_t argument_count, char *buffer, size_t capacity,
                                size_t *needed);

/**
 * Find out what a language lacks: messages of the catalogue, and texts of the loaded packs that a cashier may read, which
 * would come in English. One line for each: "message KEY: ENGLISH", "text: ENGLISH", "names in KEY: ENGLISH" (other names
 * in braces than English has) or "no such message KEY: TEXT".
 *
 * @param context   not NULL
 * @param language  as cfoil_case_options.language; not NULL
 * @param missing   receives the number of lines; not NULL
 * @param buffer    receives the lines, "" when nothing is missing
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          never; the first call reads all built-in packs from memory, tens of milliseconds
 * @return          CFOIL_OK (also when something is missing), CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_LANGUAGE,
 *                  CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         uint32_t missing; cfoil_language_check(context, "de", &missing, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_language_check(cfoil_context *context, const char *language, uint32_t *missing, char *buffer,
                                       size_t capacity, size_t *needed);

/**
 * List which manual checks speak to what a machine may have named, for every note of a currency: channel by check, with
 * what else each check speaks to and whether it depends on the machine's own test (JSON schema "counterfoil.matrix/1").
 *
 * @param context   not NULL
 * @param currency  ISO 4217 code
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          never; the first call for a currency reads its pack from memory, a millisecond or two
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_PACK, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_matrix_json(context, "EUR", buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_matrix_json(cfoil_context *context, const char *currency, char *buffer, size_t capacity,
                                    size_t *needed);

/**
 * Ask what a bank is likely to give for a damaged note, and whether a worn note should go out again. The request is JSON
 * (schema "counterfoil.damaged/1", docs/damaged-notes.md): the note, what is wrong with it, how it was measured. The answer
 * (schema "counterfoil.damaged-answer/1") names the rule, its source, who decides, where to take the note and how to pack
 * it. It predicts; the bank decides, and no shop is bound by it. Near a limit the outcome is "too_close".
 *
 * @param context   not NULL
 * @param request   JSON text of at most 64 KiB; not NULL
 * @param buffer    receives the answer as one line of JSON
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer; the request is read during the call only
 * @thread          any
 * @blocks          never
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_DATA_SIZE, _SYNTAX or _SCHEMA (cfoil_error_read() tells the place),
 *                  CFOIL_E_MISSING_PACK, _NOTE or _LANGUAGE, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_damaged_json(context, "{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"INR\","
 *                      "\"value_minor\":50000,\"conditions\":[\"burnt\"]}", buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_damaged_json(cfoil_context *context, const char *request, char *buffer, size_t capacity,
                                     size_t *needed);

/**
 * The same in lines of plain text, in the language that the request names: for a cashier, a screen or a slip.
 *
 * @param context   not NULL
 * @param request   as for cfoil_damaged_json()
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer; the request is read during the call only
 * @thread          any
 * @blocks          never
 * @return          as cfoil_damaged_json()
 * @since           0.1.0
 * @example         cfoil_damaged_text(context, request, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_damaged_text(cfoil_context *context, const char *request, char *buffer, size_t capacity,
                                     size_t *needed);

/**
 * Draw a page to count squares on, A4 across: a grid to scale, the outline of one note, and a bar of 100 mm that shows
 * whether the printer kept the scale. Print it without scaling. No part of a note's picture is in it.
 *
 * @param context      not NULL
 * @param currency     ISO 4217 code, not NULL
 * @param value_minor  value of the note
 * @param series       series of the pack, or NULL for the newest that has the value
 * @param side_mm      side of a square, 1..10 mm; 5 is quick, 2 is closer
 * @param language     as cfoil_case_options.language; NULL = English
 * @param buffer       receives SVG 1.1, UTF-8
 * @param capacity     bytes in `buffer`, 0 allowed
 * @param needed       receives the bytes needed, ending byte included; may be NULL
 * @ownership          the caller owns the buffer
 * @thread             any
 * @blocks             never
 * @return             CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_PACK, _NOTE or _LANGUAGE, CFOIL_E_STATE_STALE,
 *                     CFOIL_E_MEMORY
 * @since              0.1.0
 * @example            cfoil_damaged_grid(context, "INR", 50000, NULL, 5, NULL, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_damaged_grid(cfoil_context *context, const char *currency, int64_t value_minor,
                                     const char *series, uint32_t side_mm, const char *language, char *buffer,
                                     size_t capacity, size_t *needed);

/**
 * Check the form and check figure of a serial number. It finds misreadings, not copies.
 *
 * @param context   not NULL
 * @param currency  ISO 4217 code with a loaded pack, not NULL
 * @param serial    as read, 1..64 bytes; blanks and case do not matter
 * @param result    struct_size set; the rest is written
 * @ownership       the caller owns `result`
 * @thread          any
 * @blocks          never; the first call for a currency reads its pack from memory, a millisecond or two
 * @return          CFOIL_OK (also when the serial number is not well formed: see `result`), CFOIL_E_ARGUMENT_*,
 *                  CFOIL_E_MISSING_PACK, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_serial serial = CFOIL_SERIAL_INIT; cfoil_serial_check(context, "EUR", text, &serial);
 */
CFOIL_API int32_t cfoil_serial_check(cfoil_context *context, const char *currency, const char *serial,
                                     cfoil_serial *result);

/**
 * Make an adapter of the host's own known to the context, beside the built-in ones.
 *
 * @param context  not NULL
 * @param adapter  table as adapter.h describes; checked whole; must stay valid until the context is closed
 * @ownership      the table stays the caller's
 * @thread         any
 * @blocks         never
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_NULL, CFOIL_E_ARGUMENT_ADAPTER (see cfoil_error_read), CFOIL_E_STATE_EXISTS,
 *                 CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_adapter_register(context, &my_adapter);
 */
CFOIL_API int32_t cfoil_adapter_register(cfoil_context *context, const struct cfoil_adapter *adapter);

/**
 * Load the description of a device and make it an adapter with the id that the file gives. All or nothing.
 *
 * @param context  not NULL
 * @param path     path of a JSON file of at most 1 MiB (docs/descriptions.md), not NULL
 * @ownership      nothing passes; the context keeps the adapter until it is closed
 * @thread         any
 * @blocks         for the reading of the file
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_DATA_*, CFOIL_E_STATE_EXISTS, CFOIL_E_MEMORY; cfoil_error_read()
 *                 names file, path and line of the first fault
 * @since          0.1.0
 * @example        cfoil_adapter_describe(context, "/etc/shop/detector.json");
 */
CFOIL_API int32_t cfoil_adapter_describe(cfoil_context *context, const char *path);

/**
 * Load an adapter that stands in a shared library of its own, and make it known with the id that its table gives. All
 * or nothing. What is in the file runs in this process with all its rights, from the moment it is loaded: load only
 * files that nobody but the administrator can replace.
 *
 * @param context  not NULL
 * @param path     path of the file, absolute or beginning with "./"; it must name a folder, since no search path is used
 * @ownership      nothing passes; the context keeps the file loaded until it is closed, after its last lane
 * @thread         any
 * @blocks         for the loading of the file, and for whatever the file itself does when it is loaded
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_NULL, _TEXT or _PATH, CFOIL_E_DATA_FILE (not there, a folder, no
 *                 permission), CFOIL_E_DATA_LIBRARY (with the loader's own line), _ENTRY or _VERSION,
 *                 CFOIL_E_ARGUMENT_ADAPTER (which member of the table is wrong), CFOIL_E_STATE_EXISTS, CFOIL_E_MEMORY;
 *                 cfoil_error_read() tells more
 * @since          0.1.0
 * @example        cfoil_adapter_load(context, "/usr/lib/shop/libmyadapter.so");
 */
CFOIL_API int32_t cfoil_adapter_load(cfoil_context *context, const char *path);

/* ---- Lane ----------------------------------------------------------------------------------------------------- */

/**
 * List the serial ports and USB devices of this computer, and what the adapters of the context think of them, as JSON
 * (schema counterfoil.devices/1, docs/hardware.md).
 *
 * Listing writes nothing to any port. Listening opens one port and reads; adapters bid on what they overhear. Probing
 * lets adapters ask on one port for their device, each with its harmless identity poll, and accepts no notes.
 *
 * @param context   not NULL
 * @param options   NULL = list only
 * @param buffer    receives the text; give 16 KiB, since each call listens and probes anew
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any; not the one of a user interface
 * @blocks          for the system's answers, normally some milliseconds; listening and probing: up to wait_ms and 5 s of
 *                  opening for each adapter
 * @return          CFOIL_OK, also when a port could not be opened: the text says so; CFOIL_E_ARGUMENT_*,
 *                  CFOIL_E_PORT_FAILED, CFOIL_E_STATE_SHUTDOWN, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_devices_json(context, NULL, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_devices_json(cfoil_context *context, const cfoil_devices_options *options, char *buffer,
                                     size_t capacity, size_t *needed);

/**
 * Open a lane: starts its thread, which opens the port and talks to the device. The port need not be there yet; what
 * happens is told by LANE_STATE events.
 *
 * @param context  not NULL
 * @param options  struct_size set, adapter and port required; copied
 * @param lane     receives the handle; set to NULL on failure
 * @ownership      the caller owns the lane; end it with cfoil_lane_close()
 * @thread         any
 * @blocks         for the opening of a trace file to read or write; never for a device
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_ADAPTER, CFOIL_E_STATE_EXISTS, _SHUTDOWN or _STALE,
 *                 CFOIL_E_DATA_FILE or _TRACE, CFOIL_E_MEMORY, CFOIL_E_SYSTEM_*
 * @since          0.1.0
 * @example        cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT; options.adapter = "cctalk";
 *                 options.port = "serial:/dev/ttyUSB0"; cfoil_lane_open(context, &options, &lane);
 */
CFOIL_API int32_t cfoil_lane_open(cfoil_context *context, const cfoil_lane_options *options, cfoil_lane **lane);

/**
 * Stop a lane: inhibits the device where it still answers, closes the port, wakes every waiting call.
 *
 * @param lane  NULL is harmless
 * @ownership   ends the handle; events not fetched are gone (the ledger has them)
 * @thread      any, also while other threads wait on the lane: they get CFOIL_E_STATE_CLOSING; not from a log callback
 * @blocks      until the lane's thread has stopped: at most 2 s, normally some milliseconds; longer by the ledger's
 *              busy_ms when another process holds it
 * @return      nothing
 * @since       0.1.0
 * @example     cfoil_lane_close(lane);
 */
CFOIL_API void cfoil_lane_close(cfoil_lane *lane);

/**
 * Fetch the next event, waiting for it if need be. Each event goes to exactly one caller.
 *
 * @param lane        not NULL
 * @param timeout_ms  0..3600000; 0 = do not wait
 * @param event       struct_size set; the rest is written on CFOIL_OK
 * @ownership         the caller owns `event`
 * @thread            any; several may wait
 * @blocks            at most timeout_ms
 * @return            CFOIL_OK, CFOIL_E_TIME_OUT, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_CLOSING, _STALE or _SHUTDOWN
 * @since             0.1.0
 * @example           cfoil_event event = CFOIL_EVENT_INIT;
 *                    while (cfoil_lane_wait(lane, 500, &event) == CFOIL_OK) show(&event);
 */
CFOIL_API int32_t cfoil_lane_wait(cfoil_lane *lane, uint32_t timeout_ms, cfoil_event *event);

/**
 * Fetch the next event if there is one: cfoil_lane_wait() with no waiting.
 *
 * @param lane   not NULL
 * @param event  struct_size set; the rest is written on CFOIL_OK
 * @ownership    the caller owns `event`
 * @thread       any
 * @blocks       never
 * @return       as cfoil_lane_wait()
 * @since        0.1.0
 * @example      while (cfoil_lane_poll(lane, &event) == CFOIL_OK) show(&event);
 */
CFOIL_API int32_t cfoil_lane_poll(cfoil_lane *lane, cfoil_event *event);

/**
 * Get a native handle that is readable (POSIX descriptor) or signalled (Windows event) while events are waiting.
 * Only watch it; never read, reset or close it.
 *
 * @param lane    not NULL
 * @param handle  receives the handle
 * @ownership     stays the lane's, valid until cfoil_lane_close()
 * @thread        any
 * @blocks        never
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_STALE, CFOIL_E_SYSTEM_OS
 * @since         0.1.0
 * @example       intptr_t handle; cfoil_lane_wait_handle(lane, &handle); struct pollfd item = {(int)handle, POLLIN, 0};
 */
CFOIL_API int32_t cfoil_lane_wait_handle(cfoil_lane *lane, intptr_t *handle);

/**
 * Choose which notes the device may take from now on. Takes effect when the device has confirmed it: a LANE_STATE event
 * tells. A note already on its way may still finish under the old choice. Saying the same again lets a device that has
 * stopped (after tampering, or a difference that somebody has looked into) begin again.
 *
 * @param lane    not NULL
 * @param accept  CFOIL_ACCEPT_*
 * @ownership     nothing passes
 * @thread        any
 * @blocks        never
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_STALE, _REPLAY or _SHUTDOWN
 * @since         0.1.0
 * @example       cfoil_lane_accept(lane, CFOIL_ACCEPT_HOLD);
 */
CFOIL_API int32_t cfoil_lane_accept(cfoil_lane *lane, int32_t accept);

/**
 * Send a held note to the cash box. Only a STACKED event says that it got there.
 *
 * @param lane          not NULL
 * @param presentation  from the HELD event
 * @ownership           nothing passes
 * @thread              any
 * @blocks              never
 * @return              CFOIL_OK (asked for), CFOIL_E_STATE_NO_NOTE, _NOT_READY, _REPLAY or _STALE, CFOIL_E_ARGUMENT_*
 * @since               0.1.0
 * @example             if (event.kind == CFOIL_KIND_HELD) cfoil_note_stack(lane, event.presentation);
 */
CFOIL_API int32_t cfoil_note_stack(cfoil_lane *lane, uint64_t presentation);

/**
 * Give a held note back to the customer. Only a RETURNED event says that it happened. Not possible once
 * cfoil_note_stack() was called for it.
 *
 * @param lane          not NULL
 * @param presentation  from the HELD event
 * @ownership           nothing passes
 * @thread              any
 * @blocks              never
 * @return              as cfoil_note_stack()
 * @since               0.1.0
 * @example             cfoil_note_return(lane, event.presentation);
 */
CFOIL_API int32_t cfoil_note_return(cfoil_lane *lane, uint64_t presentation);

/**
 * Keep a held note in escrow longer: the device is asked to extend the hold every few seconds for `hold_ms` from now.
 * Without it the lane extends the hold for 30 s, then lets the device decide.
 *
 * @param lane          not NULL
 * @param presentation  from the HELD event
 * @param hold_ms       0..600000
 * @ownership           nothing passes
 * @thread              any
 * @blocks              never
 * @return              as cfoil_note_stack()
 * @since               0.1.0
 * @example             cfoil_note_hold(lane, event.presentation, 60000);
 */
CFOIL_API int32_t cfoil_note_hold(cfoil_lane *lane, uint64_t presentation, uint32_t hold_ms);

/**
 * Write an event as one JSON object (schema "counterfoil.event/1", docs/abi.md).
 *
 * @param event     struct_size set, as filled by cfoil_lane_wait(); not NULL
 * @param buffer    receives the text, no line end
 * @param capacity  bytes in `buffer`, 0 allowed; 2048 is always enough
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          never
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         char line[2048]; cfoil_event_json(&event, line, sizeof line, NULL); puts(line);
 */
CFOIL_API int32_t cfoil_event_json(const cfoil_event *event, char *buffer, size_t capacity, size_t *needed);

/* ---- Case ----------------------------------------------------------------------------------------------------- */

/**
 * Open a case for one doubtful note.
 *
 * @param context  not NULL
 * @param options  struct_size set, currency and value_minor required; copied
 * @param handle   receives the case; set to NULL on failure
 * @ownership      the caller owns the case; end it with cfoil_case_close()
 * @thread         any; one case is one thread's at a time
 * @blocks         with a ledger: for a read of the lane's newest entries (milliseconds) and for saving the case, which waits
 *                 for no disk and for another process at most 250 ms; else never. The first case of a currency, place or
 *                 language reads its pack from memory: a few milliseconds
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_PACK, _NOTE, _JURISDICTION or _LANGUAGE,
 *                 CFOIL_E_STATE_STALE, CFOIL_E_MEMORY, CFOIL_E_SYSTEM_OS
 * @since          0.1.0
 * @example        cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT; options.currency = "EUR";
 *                 options.value_minor = 5000; cfoil_case_open(context, &options, &doubt);
 */
CFOIL_API int32_t cfoil_case_open(cfoil_context *context, const cfoil_case_options *options, cfoil_case **handle);

/**
 * Close the handle. A case without a disposition is recorded as abandoned when it has a ledger and at least one
 * presentation or answer; failure to record is told to the log.
 *
 * @param handle  NULL is harmless
 * @ownership     ends the handle
 * @thread        any, not while another call on this case runs
 * @blocks        for one durable ledger write at most
 * @return        nothing
 * @since         0.1.0
 * @example       cfoil_case_close(doubt);
 */
CFOIL_API void cfoil_case_close(cfoil_case *handle);

/**
 * Add what the machine said of this note: a REJECTED, HELD, STACKED or RETURNED event, or a DEVICE event that explains
 * a refusal. Feed it every presentation of the same note, in order.
 *
 * @param handle  not NULL
 * @param event   struct_size set; copied
 * @ownership     nothing passes
 * @thread        one at a time for each case
 * @blocks        with a ledger: for saving the case, as cfoil_case_open(); else never
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_CASE_ENDED or _STALE, CFOIL_E_MEMORY
 * @since         0.1.0
 * @example       if (event.kind == CFOIL_KIND_REJECTED) cfoil_case_presentation_add(doubt, &event);
 */
CFOIL_API int32_t cfoil_case_presentation_add(cfoil_case *handle, const cfoil_event *event);

/**
 * Ask what to do now: a manual check to make, or the advice. Asking changes nothing.
 *
 * @param handle  not NULL
 * @param step    struct_size set; the rest is written
 * @ownership     texts in `step` are borrowed until the next call on this case
 * @thread        one at a time for each case
 * @blocks        never
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since         0.1.0
 * @example       cfoil_step step = CFOIL_STEP_INIT; cfoil_case_step(doubt, &step); puts(step.instruction);
 */
CFOIL_API int32_t cfoil_case_step(cfoil_case *handle, cfoil_step *step);

/**
 * Give the answer to a check. Answering a check again replaces the earlier answer.
 *
 * @param handle  not NULL
 * @param check   id from cfoil_step.check
 * @param answer  CFOIL_ANSWER_*
 * @ownership     nothing passes
 * @thread        one at a time for each case
 * @blocks        with a ledger: for saving the case, as cfoil_case_open(); else never
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_CHECK, CFOIL_E_STATE_CASE_ENDED or _STALE, CFOIL_E_MEMORY
 * @since         0.1.0
 * @example       cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_CANNOT_TELL);
 */
CFOIL_API int32_t cfoil_case_answer(cfoil_case *handle, const char *check, int32_t answer);

/**
 * Put the note's serial number into the case, checked, and looked up among refused notes. A serial number that was
 * refused before turns the advice to 'do not take it'.
 *
 * @param handle  not NULL
 * @param serial  as read, 1..64 bytes
 * @param result  struct_size set, or NULL
 * @ownership     the caller owns `result`
 * @thread        one at a time for each case
 * @blocks        for a ledger read, and for saving the case as cfoil_case_open()
 * @return        CFOIL_OK (also when the form is not known: it is kept as read), CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*,
 *                CFOIL_E_STATE_CASE_ENDED or _STALE, CFOIL_E_MEMORY
 * @since         0.1.0
 * @example       cfoil_case_serial_set(doubt, "VA0436214792", &serial);
 */
CFOIL_API int32_t cfoil_case_serial_set(cfoil_case *handle, const char *serial, cfoil_serial *result);

/**
 * End the case with a disposition and record it. When this returns CFOIL_OK and the case has a ledger, the record
 * survives a power cut. A refused case (NOT_TAKEN or SET_ASIDE) can never become TAKEN.
 *
 * @param handle   not NULL
 * @param options  struct_size set, disposition required; copied
 * @param record   struct_size set, or NULL; entry is 0 when the case has no ledger
 * @ownership      the caller owns `record`
 * @thread         one at a time for each case
 * @blocks         for one durable ledger write, at most the ledger's busy_ms
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_RULE_REFUSED (it was refused), CFOIL_E_RULE_ADVICE (TAKEN against
 *                 the advice without override), CFOIL_E_RULE_DISPOSITION, CFOIL_E_STATE_CASE_ENDED or _STALE,
 *                 in a ledger with staff codes CFOIL_E_RULE_ROLE and CFOIL_E_STATE_SIGNED_OUT for an override,
 *                 CFOIL_E_LEDGER_*, CFOIL_E_MEMORY. On failure the case stays open and unchanged
 * @since          0.1.0
 * @example        cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
 *                 end.disposition = CFOIL_DISPOSITION_NOT_TAKEN; cfoil_case_dispose(doubt, &end, &record);
 */
CFOIL_API int32_t cfoil_case_dispose(cfoil_case *handle, const cfoil_disposition_options *options,
                                     cfoil_record *record);

/**
 * Write the whole case as JSON (schema "counterfoil.case/1"): note, presentations with findings, what they say together,
 * answers, the current step, serial number, disposition, mapping to open standards.
 *
 * @param handle    not NULL
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          one at a time for each case
 * @blocks          never
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_case_json(doubt, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_case_json(cfoil_case *handle, char *buffer, size_t capacity, size_t *needed);

/**
 * Put the working of a case into English words for an expert: what each answer and the machine's refusal were weighed
 * with, from which source, with ranges, and why the next check or the advice follows. Chances are said as "1 in N". Not
 * for the cashier, and no proof.
 *
 * @param context    not NULL
 * @param case_json  text from cfoil_case_json(), or an entry from cfoil_ledger_case_json(); at most 1 MiB
 * @param buffer     receives the text
 * @param capacity   bytes in `buffer`, 0 allowed
 * @param needed     receives the bytes needed, ending byte included; may be NULL
 * @ownership        the caller owns the buffer
 * @thread           any
 * @blocks           never
 * @return           CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_DATA_SIZE or _SYNTAX, CFOIL_E_DATA_SCHEMA (no case, or one
 *                   without its working), CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since            0.1.0
 * @example          cfoil_case_json(doubt, json, sizeof json, NULL); cfoil_case_explain(context, json, text, 8192, NULL);
 */
CFOIL_API int32_t cfoil_case_explain(cfoil_context *context, const char *case_json, char *buffer, size_t capacity,
                                     size_t *needed);

/**
 * Draw where to look for the check that the case asks for now: the outline of the note to scale in neutral colours, the
 * place, the side, and a sign for feeling, tilting, light or tool. Never a picture of a note. The texts in it are in the
 * language of the case; <title> and <desc> serve screen readers. Legible from 320 pixels of width.
 *
 * @param handle    not NULL
 * @param buffer    receives SVG 1.1, UTF-8, about 2 KiB
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer; the texts of the last cfoil_step stay valid
 * @thread          one at a time for each case
 * @blocks          never
 * @return          CFOIL_OK, CFOIL_E_STATE_NO_CHECK when the step is an advice, CFOIL_E_ARGUMENT_*, CFOIL_E_STATE_STALE,
 *                  CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_case_picture(doubt, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_case_picture(cfoil_case *handle, char *buffer, size_t capacity, size_t *needed);

/* ---- Ledger and report ----------------------------------------------------------------------------------------- */

/**
 * Open the durable store, making it when it is not there (unless read_only).
 *
 * @param context  not NULL
 * @param options  struct_size set, path required; copied
 * @param ledger   receives the handle; set to NULL on failure
 * @ownership      the caller owns the ledger; end it with cfoil_ledger_close() after the lanes and cases that use it
 * @thread         any; lanes and cases of any thread may share it, and other processes may have the file open too
 * @blocks         for disk work, at most busy_ms for another process
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE or _SHUTDOWN, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT; options.path = "till.ledger";
 *                 cfoil_ledger_open(context, &options, &ledger);
 */
CFOIL_API int32_t cfoil_ledger_open(cfoil_context *context, const cfoil_ledger_options *options, cfoil_ledger **ledger);

/**
 * Close the ledger handle. Lanes and cases that still use the store keep it open until they are closed.
 *
 * @param ledger  NULL is harmless
 * @ownership     ends the handle
 * @thread        any
 * @blocks        for disk work
 * @return        nothing
 * @since         0.1.0
 * @example       cfoil_ledger_close(ledger);
 */
CFOIL_API void cfoil_ledger_close(cfoil_ledger *ledger);

/**
 * Read one entry as JSON, with its number, time, kind, body, and both hashes (schema "counterfoil.entry/1").
 *
 * @param ledger    not NULL
 * @param number    1.. ; 0 = the newest
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for a disk read
 * @return          CFOIL_OK, CFOIL_E_MISSING_ENTRY, CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE,
 *                  CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_ledger_entry_json(ledger, record.entry, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_ledger_entry_json(cfoil_ledger *ledger, int64_t number, char *buffer, size_t capacity,
                                          size_t *needed);

/**
 * Read the entry that holds the end of a case, as cfoil_ledger_entry_json() does by number.
 *
 * @param ledger    not NULL
 * @param case_id   the UUID of the case, as in cfoil_record.case_id; 1..64 bytes
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for a disk read
 * @return          as cfoil_ledger_entry_json()
 * @since           0.1.0
 * @example         cfoil_ledger_case_json(ledger, record.case_id, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_ledger_case_json(cfoil_ledger *ledger, const char *case_id, char *buffer, size_t capacity,
                                         size_t *needed);

/**
 * Recompute the whole chain, check every signature in it, and find any altered, removed or re-ordered entry. The chain
 * alone cannot show that somebody who can write the file has made all of it again: compare it with a public key or the
 * hash of an entry that were noted elsewhere (docs/ledger.md).
 *
 * @param ledger  not NULL
 * @param check   struct_size set, and trusted_key, noted_hash, noted_entry or zero; the rest is written
 * @ownership     the caller owns `check`
 * @thread        any
 * @blocks        for a read of the whole ledger
 * @return        CFOIL_OK when it could be read to the end (see `intact`), CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*,
 *                CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since         0.1.0
 * @example       cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT; cfoil_ledger_verify(ledger, &check);
 */
CFOIL_API int32_t cfoil_ledger_verify(cfoil_ledger *ledger, cfoil_ledger_check *check);

/**
 * Make everything that is only for looking up again from the entries, which are the record: where each case and each note
 * is, rules, public keys. For a ledger in which a list and the entries differ. The entries themselves stay as they are:
 * verify them first.
 *
 * @param ledger  not NULL, open for writing
 * @ownership     nothing passes
 * @thread        any
 * @blocks        for a read of the whole ledger and one durable write; other writers wait meanwhile
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY; all or nothing
 * @since         0.1.0
 * @example       cfoil_ledger_rebuild(ledger);
 */
CFOIL_API int32_t cfoil_ledger_rebuild(cfoil_ledger *ledger);

/**
 * Sign: write a checkpoint over the newest entry, or let a new key take the place of the store's key. The store's key is
 * made by the first of them, in a file beside the ledger (its name and ".key"): keep a copy of it elsewhere, and the
 * public key with somebody who is to check the ledger.
 *
 * @param ledger   not NULL, open for writing
 * @param what     CFOIL_SIGN_*
 * @param session  for a new key: a supervisor's; NULL in a ledger without staff codes
 * @param staff    for a new key: who does it, in a ledger without staff codes; else NULL
 * @param record   struct_size set, receives number, time and hash of the entry; may be NULL
 * @ownership      the caller owns `record`
 * @thread         any
 * @blocks         for one durable ledger write
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_RULE_ROLE, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_LEDGER_KEY_MISSING,
 *                 CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_SYSTEM_OS, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_ledger_sign(ledger, CFOIL_SIGN_CHECKPOINT, NULL, NULL, &record);
 */
CFOIL_API int32_t cfoil_ledger_sign(cfoil_ledger *ledger, int32_t what, cfoil_session *session, const char *staff,
                                    cfoil_record *record);

/**
 * Write the figures of a period: a verdict and what stands out, presentations by outcome and reason, acceptance with 95 %
 * Wilson intervals, cases by disposition, kept notes, device conditions (JSON schema "counterfoil.report/1", plain text, the
 * counts as CSV after RFC 4180, or one HTML page with charts that needs nothing else; docs/ledger.md, docs/statistics.md).
 *
 * @param ledger    not NULL
 * @param options   struct_size set, or NULL for everything as JSON
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for a read of the period's entries
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_ENTRY (the ledger is of another store), CFOIL_E_LEDGER_*,
 *                  CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_report_write(ledger, NULL, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_report_write(cfoil_ledger *ledger, const cfoil_report_options *options, char *buffer,
                                     size_t capacity, size_t *needed);

/**
 * Hand out what the ledger holds, for archives and other programs: all entries of a period as JSON Lines (schemas
 * "counterfoil.export/1" and "counterfoil.entry/1"), or one table as CSV. Others may append meanwhile; what they add after
 * the beginning is not in it. Personal data is in no export.
 *
 * @param ledger   not NULL
 * @param options  struct_size set, write required
 * @ownership      the bytes are borrowed for each call of `write`
 * @thread         any
 * @blocks         for a read of the period's entries, and for as long as `write` takes
 * @return         CFOIL_OK, CFOIL_E_STATE_STOPPED when `write` did not go on, CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*,
 *                 CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_export_options all = CFOIL_EXPORT_OPTIONS_INIT; all.write = to_file; all.user = file;
 *                 cfoil_ledger_export(ledger, &all);
 */
CFOIL_API int32_t cfoil_ledger_export(cfoil_ledger *ledger, const cfoil_export_options *options);

/**
 * Take records from elsewhere as entries of this ledger, each once however often it comes (docs/exchange.md): a history of
 * events as JSON Lines, or another ledger as cfoil_ledger_export() writes it, whose chain must be intact. Lines are taken
 * in batches, each durably or not at all; after a bad line the earlier batches stay, and importing again goes on.
 *
 * @param ledger   not NULL, open for writing
 * @param options  struct_size set, read required
 * @param result   struct_size set; filled whatever the answer; NULL = not wanted
 * @ownership      the buffer is lent for each call of `read`
 * @thread         any
 * @blocks         for disk work and for as long as `read` takes; each batch for at most the ledger's busy_ms
 * @return         CFOIL_OK, CFOIL_E_DATA_SYNTAX, _SCHEMA or _SIZE (see bad_line), CFOIL_E_DATA_CHAIN,
 *                 CFOIL_E_STATE_CASE_ENDED or CFOIL_E_RULE_REFUSED (a case that ended otherwise here),
 *                 CFOIL_E_STATE_STOPPED when `read` did not go on, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_RULE_ROLE,
 *                 CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_import_options all = CFOIL_IMPORT_OPTIONS_INIT; all.read = from_file; all.user = file;
 *                 all.staff = "07"; cfoil_ledger_import(ledger, &all, NULL);
 */
CFOIL_API int32_t cfoil_ledger_import(cfoil_ledger *ledger, const cfoil_import_options *options,
                                      cfoil_import_result *result);

/* ---- Open cases, sales, kept notes ------------------------------------------------------------------------------ */

/**
 * Take up a case that has not ended: after a crash of the program, or in another process. It is saved in the ledger at
 * each opening, answer, presentation and serial number, without waiting for the disk: a killed process loses nothing, a
 * power cut may lose the newest answers. Two programs must not lead the same case; whichever ends it first counts.
 *
 * @param context  not NULL
 * @param ledger   where the case was opened with; not NULL
 * @param case_id  as cfoil_ledger_list_json() lists it under CFOIL_LIST_OPEN_CASES
 * @param handle   receives the case; set to NULL on failure
 * @ownership      the caller owns the case; end it with cfoil_case_close()
 * @thread         any; one case is one thread's at a time
 * @blocks         for a ledger read
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_CASE, CFOIL_E_STATE_CASE_ENDED (it has its disposition),
 *                 CFOIL_E_DATA_SCHEMA (what was saved cannot be read), CFOIL_E_MISSING_* (a pack, note or check that is not
 *                 loaded any more), CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_case_resume(context, ledger, "019abcde-0000-7000-8000-000000000001", &doubt);
 */
CFOIL_API int32_t cfoil_case_resume(cfoil_context *context, cfoil_ledger *ledger, const char *case_id,
                                    cfoil_case **handle);

/**
 * Ask before completing a sale: does a doubtful note stand against it? Cases of every process that shares the ledger
 * count. The host keeps the money side: a refused note never pays for anything, and a sale with one is complete only when
 * it was paid by other means (docs/custody.md).
 *
 * @param ledger  not NULL
 * @param sale    the sale number that the cases were opened with, 1..64 bytes
 * @param tender  struct_size set; the rest is written
 * @ownership     the caller owns `tender`
 * @thread        any
 * @blocks        for a ledger read
 * @return        CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since         0.1.0
 * @example       cfoil_tender tender = CFOIL_TENDER_INIT; cfoil_tender_check(ledger, "2026-004711", &tender);
 *                if (tender.verdict == CFOIL_TENDER_CASE_OPEN) show(tender.text);
 */
CFOIL_API int32_t cfoil_tender_check(cfoil_ledger *ledger, const char *sale, cfoil_tender *tender);

/**
 * Record a step of a kept note's custody: found, sealed, carried, handed over, came back, not genuine, lost, given back.
 * Only legal steps are recorded, each as an entry of its own that survives a power cut; docs/custody.md has the table of
 * states, of what each step needs, and of who may do it.
 *
 * @param ledger   not NULL
 * @param options  struct_size set, move required; copied
 * @param record   struct_size set, or NULL; case_id is the new case's after FIND
 * @ownership      the caller owns `record`
 * @thread         any
 * @blocks         for one durable ledger write, at most the ledger's busy_ms
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_CASE, CFOIL_E_RULE_CUSTODY (not from there, or something
 *                 that the step needs is not given), CFOIL_E_RULE_ROLE, CFOIL_E_RULE_SECOND, CFOIL_E_STATE_EXISTS (the
 *                 envelope holds another note), CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_STATE_STALE, CFOIL_E_LEDGER_*,
 *                 CFOIL_E_SYSTEM_OS, CFOIL_E_MEMORY. On failure nothing is recorded
 * @since          0.1.0
 * @example        cfoil_custody_options seal = CFOIL_CUSTODY_OPTIONS_INIT; seal.move = CFOIL_CUSTODY_SEAL;
 *                 seal.case_id = record.case_id; seal.staff = "07"; seal.envelope = "E 7";
 *                 cfoil_custody_move(ledger, &seal, NULL);
 */
CFOIL_API int32_t cfoil_custody_move(cfoil_ledger *ledger, const cfoil_custody_options *options, cfoil_record *record);

/**
 * List what the ledger holds beside its entries: open cases, notes in custody, one case, staff codes, rules of the store
 * (JSON schema "counterfoil.list/1", docs/custody.md). A ledger of an older version that is open for reading has none.
 *
 * @param ledger    not NULL
 * @param list      CFOIL_LIST_*
 * @param only      narrows the list as CFOIL_LIST_* says, up to 64 bytes; NULL or "" = everything
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for a ledger read
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_ledger_list_json(ledger, CFOIL_LIST_CUSTODY, "held", buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_ledger_list_json(cfoil_ledger *ledger, int32_t list, const char *only, char *buffer,
                                         size_t capacity, size_t *needed);

/**
 * Hold the notes that the shop should have by record against the envelopes that somebody has counted: present, missing,
 * not in an envelope yet, counted twice, in a wrong state, not in the ledger (JSON schema "counterfoil.reconcile/1").
 * Nothing is changed: what is missing is recorded with CFOIL_CUSTODY_LOSE, by a person.
 *
 * @param ledger    not NULL
 * @param options   struct_size set, envelopes required
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for a ledger read
 * @return          CFOIL_OK (also when something does not agree), CFOIL_E_ARGUMENT_*, CFOIL_E_DATA_SYNTAX or _SCHEMA,
 *                  CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_reconcile_options count = CFOIL_RECONCILE_OPTIONS_INIT; count.envelopes = "[\"E 7\"]";
 *                  cfoil_reconcile_json(ledger, &count, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_reconcile_json(cfoil_ledger *ledger, const cfoil_reconcile_options *options, char *buffer,
                                       size_t capacity, size_t *needed);

/**
 * Write a paper about refused and kept notes: a customer's receipt, the label of an envelope, a list for a hand-over, a
 * list of a period. No paper says what a note is; each says that local law decides. Words and rules are those of the packs.
 *
 * @param ledger    not NULL
 * @param options   struct_size set, kind required; copied
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer
 * @thread          any
 * @blocks          for a ledger read
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_CASE (no such case has ended), CFOIL_E_MISSING_LANGUAGE,
 *                  CFOIL_E_MISSING_JURISDICTION, CFOIL_E_MISSING_PACK (for a note's currency), CFOIL_E_RULE_CUSTODY (no such
 *                  paper for this note), CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_paper_options paper = CFOIL_PAPER_OPTIONS_INIT; paper.kind = CFOIL_PAPER_RECEIPT;
 *                  paper.case_id = record.case_id; paper.language = "de";
 *                  cfoil_paper_write(ledger, &paper, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_paper_write(cfoil_ledger *ledger, const cfoil_paper_options *options, char *buffer,
                                    size_t capacity, size_t *needed);

/* ---- Who may do what --------------------------------------------------------------------------------------------- */

/**
 * Sign a person in with the PIN. Wrong PINs are counted in the ledger before the PIN is looked at; after two in a row the
 * code is locked for half a minute, then twice as long each time, up to an hour. A right and a wrong PIN take the same
 * time, and so does a code that nobody has. The PIN is not kept.
 *
 * @param ledger   not NULL, open for writing
 * @param staff    staff code, 1..32 bytes
 * @param pin      1..64 bytes
 * @param seconds  the session ends so long after its last use, up to 43200; 0 = 600
 * @param session  receives the session; set to NULL on failure
 * @ownership      the caller owns the session; end it with cfoil_sign_out()
 * @thread         any
 * @blocks         for about a tenth of a second of work (Argon2id, 64 MiB) and two durable ledger writes
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_RULE_PIN, CFOIL_E_RULE_LOCKED (the text says how long),
 *                 CFOIL_E_LEDGER_*, CFOIL_E_STATE_STALE, CFOIL_E_SYSTEM_OS, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_session *session; cfoil_sign_in(ledger, "07", pin, 0, &session);
 */
CFOIL_API int32_t cfoil_sign_in(cfoil_ledger *ledger, const char *staff, const char *pin, uint32_t seconds,
                                cfoil_session **session);

/**
 * End a session.
 *
 * @param session  NULL is harmless
 * @ownership      ends the handle
 * @thread         any
 * @blocks         never
 * @return         nothing
 * @since          0.1.0
 * @example        cfoil_sign_out(session);
 */
CFOIL_API void cfoil_sign_out(cfoil_session *session);

/**
 * Make, change or end a staff code. A ledger without any asks for names only, which is enough for a small shop; the first
 * code must be a supervisor's and needs no session. Later changes need a supervisor's, except one's own PIN. The last
 * supervisor stays one. Each change is an entry of the ledger, without the PIN.
 *
 * @param ledger   not NULL, open for writing
 * @param session  who does it; NULL for the first code
 * @param staff    staff code, 1..32 bytes
 * @param role     CFOIL_ROLE_*; NONE ends the code
 * @param pin      4..64 bytes; NULL = keeps the one there is
 * @ownership      nothing passes
 * @thread         any
 * @blocks         for about a tenth of a second of work (Argon2id, 64 MiB) and one durable ledger write
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_RULE_ROLE, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_LEDGER_*,
 *                 CFOIL_E_STATE_STALE, CFOIL_E_SYSTEM_OS, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_staff_set(ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, pin);
 */
CFOIL_API int32_t cfoil_staff_set(cfoil_ledger *ledger, cfoil_session *session, const char *staff, int32_t role,
                                  const char *pin);

/**
 * Choose a rule of the store. There is one: "two_persons", "yes" or "no" (at first no): sealing, handing over, losing and
 * giving back a note then need a second person. Each change is an entry of the ledger.
 *
 * @param ledger   not NULL, open for writing
 * @param session  a supervisor's; NULL in a ledger without staff codes
 * @param staff    who does it, in a ledger without staff codes; else NULL
 * @param name     the rule
 * @param value    its value
 * @ownership      nothing passes
 * @thread         any
 * @blocks         for one durable ledger write
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_RULE_ROLE, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_LEDGER_*,
 *                 CFOIL_E_STATE_STALE, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_setting_set(ledger, session, NULL, "two_persons", "yes");
 */
CFOIL_API int32_t cfoil_setting_set(cfoil_ledger *ledger, cfoil_session *session, const char *staff, const char *name,
                                    const char *value);

/* ---- Personal data ----------------------------------------------------------------------------------------------- */

/**
 * Keep personal data of a case: sealed with the store's key, apart from the entries, in the place of what was kept for the
 * case before. The chain tells that it was written, by whom and until when, never what. It is in no log, trace, export,
 * report or paper. What is over its time is erased when the ledger is opened, at each sign-in, and by cfoil_person_erase().
 *
 * @param ledger   not NULL, open for writing
 * @param options  struct_size set; session, case_id and one of the texts required; copied
 * @param record   struct_size set, or NULL
 * @ownership      the caller owns `record`; wipe your own copies of the texts
 * @thread         any
 * @blocks         for one durable ledger write, at most the ledger's busy_ms
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_CASE, CFOIL_E_MISSING_JURISDICTION, CFOIL_E_RULE_PERIOD (days
 *                 is 0 and the pack has no number), CFOIL_E_RULE_ROLE, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_STATE_STALE,
 *                 CFOIL_E_LEDGER_*, CFOIL_E_SYSTEM_OS, CFOIL_E_MEMORY. On failure nothing is kept
 * @since          0.1.0
 * @example        cfoil_person_options person = CFOIL_PERSON_OPTIONS_INIT; person.session = session;
 *                 person.case_id = record.case_id; person.contact = typed; person.days = 30;
 *                 cfoil_person_set(ledger, &person, NULL);
 */
CFOIL_API int32_t cfoil_person_set(cfoil_ledger *ledger, const cfoil_person_options *options, cfoil_record *record);

/**
 * Show the personal data of a case (JSON schema "counterfoil.person/1"), to a supervisor or an auditor.
 *
 * @param ledger    not NULL
 * @param session   a supervisor's or an auditor's
 * @param case_id   the case
 * @param buffer    receives the text
 * @param capacity  bytes in `buffer`, 0 allowed
 * @param needed    receives the bytes needed, ending byte included; may be NULL
 * @ownership       the caller owns the buffer, and wipes it
 * @thread          any
 * @blocks          for a ledger read
 * @return          CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_ENTRY (nothing is kept for the case), CFOIL_E_RULE_ROLE,
 *                  CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_STATE_STALE, CFOIL_E_LEDGER_*, CFOIL_E_SYSTEM_OS, CFOIL_E_MEMORY
 * @since           0.1.0
 * @example         cfoil_person_json(ledger, session, record.case_id, buffer, sizeof buffer, &needed);
 */
CFOIL_API int32_t cfoil_person_json(cfoil_ledger *ledger, cfoil_session *session, const char *case_id, char *buffer,
                                    size_t capacity, size_t *needed);

/**
 * Erase the personal data of a case, or of every case whose time is over. The places in the file are overwritten; copies
 * that were made before are not (docs/privacy.md). Each erasing is an entry of the ledger.
 *
 * @param ledger   not NULL, open for writing
 * @param session  a supervisor's; NULL in a ledger without staff codes, and when case_id is NULL
 * @param staff    who does it, in a ledger without staff codes; else NULL
 * @param case_id  the case; NULL = every case whose time is over, which needs nobody's leave
 * @param erased   receives how many were erased; may be NULL
 * @ownership      nothing passes
 * @thread         any
 * @blocks         for one durable ledger write and one write of the log into the file, each at most the ledger's busy_ms
 * @return         CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_MISSING_ENTRY (nothing is kept for the case), CFOIL_E_RULE_ROLE,
 *                 CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_STATE_STALE, CFOIL_E_LEDGER_*, CFOIL_E_MEMORY
 * @since          0.1.0
 * @example        cfoil_person_erase(ledger, NULL, NULL, NULL, &erased);
 */
CFOIL_API int32_t cfoil_person_erase(cfoil_ledger *ledger, cfoil_session *session, const char *staff,
                                     const char *case_id, uint32_t *erased);

#ifdef __cplusplus
} /* extern "C" */
#endif
#endif /* COUNTERFOIL_H */
