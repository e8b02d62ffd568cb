/*
 * What each result code means and what the caller may do next.
 */
#include <counterfoil/counterfoil.h>
#include <stddef.h>

struct result_row {
    int32_t result;
    int32_t action;
    const char *text;
};

static const struct result_row rows[] = {
    {CFOIL_OK, CFOIL_ACTION_NONE, "Success."},
    {CFOIL_E_ARGUMENT_NULL, CFOIL_ACTION_FIX_CALL, "A pointer that must not be NULL is NULL: pass one."},
    {CFOIL_E_ARGUMENT_STRUCT_SIZE, CFOIL_ACTION_FIX_CALL,
     "struct_size is not set, or bytes this library does not know are not zero: use the _INIT macro."},
    {CFOIL_E_ARGUMENT_RANGE, CFOIL_ACTION_FIX_CALL, "A number is outside its documented range."},
    {CFOIL_E_ARGUMENT_TEXT, CFOIL_ACTION_FIX_CALL, "A text is empty, too long or not UTF-8."},
    {CFOIL_E_ARGUMENT_BUFFER, CFOIL_ACTION_FIX_CALL, "The buffer is too small: call again with the needed size."},
    {CFOIL_E_ARGUMENT_HANDLE, CFOIL_ACTION_FIX_CALL, "The pointer is not a handle of the kind this call takes."},
    {CFOIL_E_ARGUMENT_PORT, CFOIL_ACTION_FIX_CALL,
     "The port is not understood: write serial:DEVICE, tcp:HOST:PORT, usb:VID:PID or trace:FILE."},
    {CFOIL_E_ARGUMENT_ADAPTER, CFOIL_ACTION_FIX_CALL, "The adapter table is not valid."},
    {CFOIL_E_ARGUMENT_SETTING, CFOIL_ACTION_FIX_CALL, "An adapter setting is unknown or has a bad value."},
    {CFOIL_E_ARGUMENT_PATH, CFOIL_ACTION_FIX_CALL,
     "The path of an adapter file must name its folder: write ./FILE or /FOLDER/FILE."},
    {CFOIL_E_STATE_STALE, CFOIL_ACTION_FIX_CALL, "The handle is closed: do not use it any more."},
    {CFOIL_E_STATE_SHUTDOWN, CFOIL_ACTION_STOP, "The context is shutting down."},
    {CFOIL_E_STATE_NOT_READY, CFOIL_ACTION_RETRY, "The device is not ready for this command: try again later."},
    {CFOIL_E_STATE_NO_NOTE, CFOIL_ACTION_FIX_CALL,
     "No note of that presentation is held any more: look at the events."},
    {CFOIL_E_STATE_CASE_ENDED, CFOIL_ACTION_FIX_CALL, "The case has its disposition already: open a new case."},
    {CFOIL_E_STATE_REPLAY, CFOIL_ACTION_FIX_CALL, "A replay takes its commands from the trace."},
    {CFOIL_E_STATE_NO_LEDGER, CFOIL_ACTION_FIX_CALL, "The case was opened without a ledger."},
    {CFOIL_E_STATE_EXISTS, CFOIL_ACTION_FIX_CALL, "That name or id is in use: choose another."},
    {CFOIL_E_STATE_CLOSING, CFOIL_ACTION_STOP, "The handle was closed while the call waited."},
    {CFOIL_E_STATE_NO_CHECK, CFOIL_ACTION_FIX_CALL, "No check is open now: look at the step."},
    {CFOIL_E_STATE_SIGNED_OUT, CFOIL_ACTION_OPERATOR, "Nobody is signed in, or not any more: sign in."},
    {CFOIL_E_STATE_STOPPED, CFOIL_ACTION_NONE, "It ended early because a function of the host did not go on."},
    {CFOIL_E_MEMORY, CFOIL_ACTION_RETRY, "There is not enough memory."},
    {CFOIL_E_TIME_OUT, CFOIL_ACTION_RETRY, "The waiting time passed and nothing happened."},
    {CFOIL_E_PORT_MISSING, CFOIL_ACTION_OPERATOR, "There is no such port, host or file: check the name and the cable."},
    {CFOIL_E_PORT_BUSY, CFOIL_ACTION_OPERATOR, "Another program has the port: close it there."},
    {CFOIL_E_PORT_DENIED, CFOIL_ACTION_OPERATOR, "No permission to open the port: have it granted."},
    {CFOIL_E_PORT_GONE, CFOIL_ACTION_REOPEN, "The port has gone: the cable was pulled or the other end closed."},
    {CFOIL_E_PORT_SETTINGS, CFOIL_ACTION_OPERATOR, "The port cannot do the line settings this protocol needs."},
    {CFOIL_E_PORT_FAILED, CFOIL_ACTION_REOPEN, "The operating system reports a failure of the port."},
    {CFOIL_E_PORT_ENDED, CFOIL_ACTION_NONE, "The replayed trace is at its end."},
    {CFOIL_E_PORT_STALLED, CFOIL_ACTION_REOPEN, "The USB device stopped the exchange: check adapter and interface."},
    {CFOIL_E_PORT_TIME_OUT, CFOIL_ACTION_REOPEN, "The USB device takes or answers nothing: check whether it is ready."},
    {CFOIL_E_PORT_OVERFLOW, CFOIL_ACTION_REOPEN,
     "The USB device sent more than its descriptor allows: have its firmware looked at."},
    {CFOIL_E_PORT_AMBIGUOUS, CFOIL_ACTION_OPERATOR,
     "More than one USB device has these numbers: name one by its serial number."},
    {CFOIL_E_DEVICE_SILENT, CFOIL_ACTION_OPERATOR, "The device does not answer: check power, cable and address."},
    {CFOIL_E_DEVICE_WRONG, CFOIL_ACTION_OPERATOR, "Another kind of device answers: check the port and the adapter."},
    {CFOIL_E_DEVICE_REFUSED, CFOIL_ACTION_RETRY, "The device refused the command."},
    {CFOIL_E_DEVICE_FAULT, CFOIL_ACTION_OPERATOR, "The device reports a fault of its own: look at it."},
    {CFOIL_E_DEVICE_FRAME, CFOIL_ACTION_OPERATOR, "Damaged messages on the line: check cable and line settings."},
    {CFOIL_E_DEVICE_NOTES, CFOIL_ACTION_OPERATOR,
     "The device tells no note of known value: set the currency in the adapter settings."},
    {CFOIL_E_DATA_FILE, CFOIL_ACTION_OPERATOR, "The file cannot be read or written: check name and permission."},
    {CFOIL_E_DATA_SYNTAX, CFOIL_ACTION_FIX_CALL, "The file is not well-formed."},
    {CFOIL_E_DATA_SCHEMA, CFOIL_ACTION_FIX_CALL, "The file is well-formed but not what its format asks for."},
    {CFOIL_E_DATA_SIZE, CFOIL_ACTION_FIX_CALL, "The file is larger than its format allows."},
    {CFOIL_E_DATA_TRACE, CFOIL_ACTION_FIX_CALL, "The trace is not valid, or the replay departs from it."},
    {CFOIL_E_DATA_LIBRARY, CFOIL_ACTION_FIX_CALL, "The system cannot load the adapter file: read the loader's line."},
    {CFOIL_E_DATA_ENTRY, CFOIL_ACTION_FIX_CALL, "The shared library is no adapter: it has no adapter entry."},
    {CFOIL_E_DATA_VERSION, CFOIL_ACTION_FIX_CALL,
     "The adapter was built for another version of adapter.h: have it built for this one."},
    {CFOIL_E_DATA_CHAIN, CFOIL_ACTION_OPERATOR,
     "The ledger that is imported is not whole and unaltered: have it verified where it is."},
    {CFOIL_E_LEDGER_OPEN, CFOIL_ACTION_OPERATOR, "The ledger cannot be opened: check path and permission."},
    {CFOIL_E_LEDGER_BUSY, CFOIL_ACTION_RETRY, "Another process holds the ledger: try again."},
    {CFOIL_E_LEDGER_FULL, CFOIL_ACTION_OPERATOR, "There is no room for the ledger: free disk space."},
    {CFOIL_E_LEDGER_READ_ONLY, CFOIL_ACTION_OPERATOR, "The ledger cannot be written: check permission and disk."},
    {CFOIL_E_LEDGER_DAMAGED, CFOIL_ACTION_STOP, "The ledger is damaged: keep the file as it is and have it examined."},
    {CFOIL_E_LEDGER_NEWER, CFOIL_ACTION_STOP, "The ledger was written by a newer version: update this library."},
    {CFOIL_E_LEDGER_FAILED, CFOIL_ACTION_REOPEN, "The ledger failed: close it and open it again."},
    {CFOIL_E_LEDGER_RIGHTS, CFOIL_ACTION_OPERATOR,
     "Others have rights on the ledger's file: take them away (chmod 600), or say in the options that they may."},
    {CFOIL_E_LEDGER_BACKUP, CFOIL_ACTION_OPERATOR,
     "No copy of the older ledger can be made beside it: look at what is in its folder."},
    {CFOIL_E_LEDGER_KEY, CFOIL_ACTION_OPERATOR,
     "The key file beside the ledger is not this ledger's, or cannot be used: put the right one back from its copy."},
    {CFOIL_E_LEDGER_KEY_MISSING, CFOIL_ACTION_OPERATOR,
     "The ledger's key file is not there: put it back from its copy. Recording goes on without it."},
    {CFOIL_E_RULE_REFUSED, CFOIL_ACTION_FIX_CALL, "The note was refused: it cannot be taken any more."},
    {CFOIL_E_RULE_ADVICE, CFOIL_ACTION_OPERATOR,
     "The advice is not to take the note: only a named person's override, with a reason, may."},
    {CFOIL_E_RULE_DISPOSITION, CFOIL_ACTION_FIX_CALL, "This way to end the case is not offered now."},
    {CFOIL_E_RULE_CUSTODY, CFOIL_ACTION_FIX_CALL, "The note is not where this step of its custody begins."},
    {CFOIL_E_RULE_ROLE, CFOIL_ACTION_OPERATOR, "This person may not do that: somebody with the right role must."},
    {CFOIL_E_RULE_SECOND, CFOIL_ACTION_OPERATOR, "A second person must confirm this: name one."},
    {CFOIL_E_RULE_PIN, CFOIL_ACTION_OPERATOR, "The staff code or the PIN is not right."},
    {CFOIL_E_RULE_LOCKED, CFOIL_ACTION_RETRY, "Too many wrong PINs: wait, then try again."},
    {CFOIL_E_RULE_PERIOD, CFOIL_ACTION_OPERATOR,
     "Nothing says how many days these personal data may be kept: give the number that your adviser names."},
    {CFOIL_E_MISSING_ADAPTER, CFOIL_ACTION_FIX_CALL, "No adapter has that id."},
    {CFOIL_E_MISSING_PACK, CFOIL_ACTION_FIX_CALL, "No pack is loaded for that currency."},
    {CFOIL_E_MISSING_NOTE, CFOIL_ACTION_FIX_CALL, "The pack has no such denomination or series."},
    {CFOIL_E_MISSING_CHECK, CFOIL_ACTION_FIX_CALL, "This note has no check with that id."},
    {CFOIL_E_MISSING_ENTRY, CFOIL_ACTION_FIX_CALL, "The ledger has no entry with that number."},
    {CFOIL_E_MISSING_JURISDICTION, CFOIL_ACTION_FIX_CALL, "No pack is loaded for that jurisdiction."},
    {CFOIL_E_MISSING_LANGUAGE, CFOIL_ACTION_FIX_CALL, "No pack is loaded with texts in that language."},
    {CFOIL_E_MISSING_MESSAGE, CFOIL_ACTION_FIX_CALL, "No message has that key in any loaded pack."},
    {CFOIL_E_MISSING_CASE, CFOIL_ACTION_FIX_CALL, "The ledger has no such case."},
    {CFOIL_E_SYSTEM_THREAD, CFOIL_ACTION_RETRY, "The system gave no thread."},
    {CFOIL_E_SYSTEM_OS, CFOIL_ACTION_RETRY, "A call of the operating system failed."},
};

/* For a cause that this version does not know. */
static const struct result_row classes[] = {
    {CFOIL_CLASS_ARGUMENT, CFOIL_ACTION_FIX_CALL, "The call is wrong in a way this version does not know."},
    {CFOIL_CLASS_STATE, CFOIL_ACTION_RETRY, "Not possible now, for a reason this version does not know."},
    {CFOIL_CLASS_MEMORY, CFOIL_ACTION_RETRY, "There is not enough memory."},
    {CFOIL_CLASS_TIME, CFOIL_ACTION_RETRY, "The waiting time passed and nothing happened."},
    {CFOIL_CLASS_PORT, CFOIL_ACTION_REOPEN, "The way to the device failed."},
    {CFOIL_CLASS_DEVICE, CFOIL_ACTION_OPERATOR, "The device needs attention."},
    {CFOIL_CLASS_DATA, CFOIL_ACTION_FIX_CALL, "A data file is not acceptable."},
    {CFOIL_CLASS_LEDGER, CFOIL_ACTION_OPERATOR, "The ledger needs attention."},
    {CFOIL_CLASS_RULE, CFOIL_ACTION_FIX_CALL, "A rule forbids it."},
    {CFOIL_CLASS_MISSING, CFOIL_ACTION_FIX_CALL, "It does not exist."},
    {CFOIL_CLASS_SYSTEM, CFOIL_ACTION_RETRY, "The operating system failed."},
};

static const struct result_row *row_find(int32_t result)
{
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (rows[i].result == result)
            return &rows[i];
    }
    for (size_t i = 0; i < sizeof classes / sizeof classes[0]; i++) {
        if (classes[i].result == (result & 0xFF))
            return &classes[i];
    }
    return NULL;
}

const char *cfoil_error_text(int32_t result)
{
    const struct result_row *row = row_find(result);
    return row != NULL ? row->text : "A result that this version does not know: stop.";
}

int32_t cfoil_result_action(int32_t result)
{
    const struct result_row *row = row_find(result);
    return row != NULL ? row->action : CFOIL_ACTION_STOP;
}
