// Made from counterfoil.h by declare.py; do not edit. Declarations only: never compiled or run by its authors.
using System;
using System.Runtime.InteropServices;

public static class Counterfoil
{
    private const string Library = "counterfoil";

    public const int CFOIL_CLASS_OK = 0;
    public const int CFOIL_CLASS_ARGUMENT = 1;
    public const int CFOIL_CLASS_STATE = 2;
    public const int CFOIL_CLASS_MEMORY = 3;
    public const int CFOIL_CLASS_TIME = 4;
    public const int CFOIL_CLASS_PORT = 5;
    public const int CFOIL_CLASS_DEVICE = 6;
    public const int CFOIL_CLASS_DATA = 7;
    public const int CFOIL_CLASS_LEDGER = 8;
    public const int CFOIL_CLASS_RULE = 9;
    public const int CFOIL_CLASS_MISSING = 10;
    public const int CFOIL_CLASS_SYSTEM = 11;
    public const int CFOIL_OK = 0;
    public const int CFOIL_E_ARGUMENT_NULL = 0x0101;
    public const int CFOIL_E_ARGUMENT_STRUCT_SIZE = 0x0201;
    public const int CFOIL_E_ARGUMENT_RANGE = 0x0301;
    public const int CFOIL_E_ARGUMENT_TEXT = 0x0401;
    public const int CFOIL_E_ARGUMENT_BUFFER = 0x0501;
    public const int CFOIL_E_ARGUMENT_HANDLE = 0x0601;
    public const int CFOIL_E_ARGUMENT_PORT = 0x0701;
    public const int CFOIL_E_ARGUMENT_ADAPTER = 0x0801;
    public const int CFOIL_E_ARGUMENT_SETTING = 0x0901;
    public const int CFOIL_E_ARGUMENT_PATH = 0x0a01;
    public const int CFOIL_E_STATE_STALE = 0x0102;
    public const int CFOIL_E_STATE_SHUTDOWN = 0x0202;
    public const int CFOIL_E_STATE_NOT_READY = 0x0302;
    public const int CFOIL_E_STATE_NO_NOTE = 0x0402;
    public const int CFOIL_E_STATE_CASE_ENDED = 0x0502;
    public const int CFOIL_E_STATE_REPLAY = 0x0602;
    public const int CFOIL_E_STATE_NO_LEDGER = 0x0702;
    public const int CFOIL_E_STATE_EXISTS = 0x0802;
    public const int CFOIL_E_STATE_CLOSING = 0x0902;
    public const int CFOIL_E_STATE_NO_CHECK = 0x0b02;
    public const int CFOIL_E_STATE_SIGNED_OUT = 0x0a02;
    public const int CFOIL_E_STATE_STOPPED = 0x0c02;
    public const int CFOIL_E_MEMORY = 0x0103;
    public const int CFOIL_E_TIME_OUT = 0x0104;
    public const int CFOIL_E_PORT_MISSING = 0x0105;
    public const int CFOIL_E_PORT_BUSY = 0x0205;
    public const int CFOIL_E_PORT_DENIED = 0x0305;
    public const int CFOIL_E_PORT_GONE = 0x0405;
    public const int CFOIL_E_PORT_SETTINGS = 0x0505;
    public const int CFOIL_E_PORT_FAILED = 0x0605;
    public const int CFOIL_E_PORT_ENDED = 0x0705;
    public const int CFOIL_E_PORT_STALLED = 0x0805;
    public const int CFOIL_E_PORT_TIME_OUT = 0x0905;
    public const int CFOIL_E_PORT_OVERFLOW = 0x0a05;
    public const int CFOIL_E_PORT_AMBIGUOUS = 0x0b05;
    public const int CFOIL_E_DEVICE_SILENT = 0x0106;
    public const int CFOIL_E_DEVICE_WRONG = 0x0206;
    public const int CFOIL_E_DEVICE_REFUSED = 0x0306;
    public const int CFOIL_E_DEVICE_FAULT = 0x0406;
    public const int CFOIL_E_DEVICE_FRAME = 0x0506;
    public const int CFOIL_E_DEVICE_NOTES = 0x0606;
    public const int CFOIL_E_DATA_FILE = 0x0107;
    public const int CFOIL_E_DATA_SYNTAX = 0x0207;
    public const int CFOIL_E_DATA_SCHEMA = 0x0307;
    public const int CFOIL_E_DATA_SIZE = 0x0407;
    public const int CFOIL_E_DATA_TRACE = 0x0507;
    public const int CFOIL_E_DATA_LIBRARY = 0x0607;
    public const int CFOIL_E_DATA_ENTRY = 0x0707;
    public const int CFOIL_E_DATA_VERSION = 0x0807;
    public const int CFOIL_E_DATA_CHAIN = 0x0907;
    public const int CFOIL_E_LEDGER_OPEN = 0x0108;
    public const int CFOIL_E_LEDGER_BUSY = 0x0208;
    public const int CFOIL_E_LEDGER_FULL = 0x0308;
    public const int CFOIL_E_LEDGER_READ_ONLY = 0x0408;
    public const int CFOIL_E_LEDGER_DAMAGED = 0x0508;
    public const int CFOIL_E_LEDGER_NEWER = 0x0608;
    public const int CFOIL_E_LEDGER_FAILED = 0x0708;
    public const int CFOIL_E_LEDGER_RIGHTS = 0x0808;
    public const int CFOIL_E_LEDGER_BACKUP = 0x0908;
    public const int CFOIL_E_LEDGER_KEY = 0x0a08;
    public const int CFOIL_E_LEDGER_KEY_MISSING = 0x0b08;
    public const int CFOIL_E_RULE_REFUSED = 0x0109;
    public const int CFOIL_E_RULE_ADVICE = 0x0209;
    public const int CFOIL_E_RULE_DISPOSITION = 0x0309;
    public const int CFOIL_E_RULE_CUSTODY = 0x0409;
    public const int CFOIL_E_RULE_ROLE = 0x0509;
    public const int CFOIL_E_RULE_SECOND = 0x0609;
    public const int CFOIL_E_RULE_PIN = 0x0709;
    public const int CFOIL_E_RULE_LOCKED = 0x0809;
    public const int CFOIL_E_RULE_PERIOD = 0x0909;
    public const int CFOIL_E_MISSING_ADAPTER = 0x010a;
    public const int CFOIL_E_MISSING_PACK = 0x020a;
    public const int CFOIL_E_MISSING_NOTE = 0x030a;
    public const int CFOIL_E_MISSING_CHECK = 0x040a;
    public const int CFOIL_E_MISSING_ENTRY = 0x050a;
    public const int CFOIL_E_MISSING_JURISDICTION = 0x060a;
    public const int CFOIL_E_MISSING_LANGUAGE = 0x070a;
    public const int CFOIL_E_MISSING_MESSAGE = 0x080a;
    public const int CFOIL_E_MISSING_CASE = 0x090a;
    public const int CFOIL_E_SYSTEM_THREAD = 0x010b;
    public const int CFOIL_E_SYSTEM_OS = 0x020b;
    public const int CFOIL_ACTION_NONE = 0;
    public const int CFOIL_ACTION_RETRY = 1;
    public const int CFOIL_ACTION_REOPEN = 2;
    public const int CFOIL_ACTION_FIX_CALL = 3;
    public const int CFOIL_ACTION_OPERATOR = 4;
    public const int CFOIL_ACTION_STOP = 5;
    public const int CFOIL_KIND_NONE = 0;
    public const int CFOIL_KIND_HELD = 1;
    public const int CFOIL_KIND_STACKED = 2;
    public const int CFOIL_KIND_RETURNED = 3;
    public const int CFOIL_KIND_REJECTED = 4;
    public const int CFOIL_KIND_DEVICE = 5;
    public const int CFOIL_KIND_LOST_EVENTS = 6;
    public const int CFOIL_KIND_LANE_STATE = 7;
    public const int CFOIL_REASON_NONE = 0;
    public const int CFOIL_REASON_AUTHENTICITY = 1;
    public const int CFOIL_REASON_NOT_RECOGNISED = 2;
    public const int CFOIL_REASON_HANDLING = 3;
    public const int CFOIL_REASON_NOT_ENABLED = 4;
    public const int CFOIL_REASON_DEVICE = 5;
    public const int CFOIL_REASON_TAMPERING = 6;
    public const int CFOIL_CHANNEL_UNKNOWN = 0;
    public const int CFOIL_CHANNEL_IMAGE = 1;
    public const int CFOIL_CHANNEL_ULTRAVIOLET = 2;
    public const int CFOIL_CHANNEL_INFRARED = 3;
    public const int CFOIL_CHANNEL_MAGNETIC = 4;
    public const int CFOIL_CHANNEL_THREAD = 5;
    public const int CFOIL_CHANNEL_SIZE = 6;
    public const int CFOIL_CHANNEL_THICKNESS = 7;
    public const int CFOIL_CHANNEL_TRANSPORT = 8;
    public const int CFOIL_STRENGTH_NONE = 0;
    public const int CFOIL_STRENGTH_WEAK = 1;
    public const int CFOIL_STRENGTH_CLEAR = 2;
    public const int CFOIL_STRENGTH_STRONG = 3;
    public const int CFOIL_ORIGIN_DEVICE = 1;
    public const int CFOIL_ORIGIN_PERSON = 2;
    public const int CFOIL_ORIGIN_LIBRARY = 3;
    public const int CFOIL_CONDITION_NONE = 0;
    public const int CFOIL_CONDITION_RESTARTED = 1;
    public const int CFOIL_CONDITION_JAM_REACHABLE = 2;
    public const int CFOIL_CONDITION_JAM_SAFE = 3;
    public const int CFOIL_CONDITION_STACKER_REMOVED = 4;
    public const int CFOIL_CONDITION_STACKER_IN_PLACE = 5;
    public const int CFOIL_CONDITION_STACKER_FULL = 6;
    public const int CFOIL_CONDITION_FAULT = 7;
    public const int CFOIL_CONDITION_FAULT_CLEARED = 8;
    public const int CFOIL_CONDITION_TAMPERING = 9;
    public const int CFOIL_CONDITION_UNKNOWN_NOTE_STACKED = 10;
    public const int CFOIL_CONDITION_UNKNOWN_CODE = 11;
    public const int CFOIL_CONDITION_BARCODE = 12;
    public const int CFOIL_CONDITION_LINE_NOISY = 13;
    public const int CFOIL_CONDITION_COUNTER_GAP = 14;
    public const int CFOIL_CONDITION_QUEUE_OVERFLOW = 15;
    public const int CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT = 16;
    public const int CFOIL_CONDITION_OUTCOME_UNKNOWN = 17;
    public const int CFOIL_CONDITION_LEDGER_FAILING = 18;
    public const int CFOIL_CONDITION_IDENTIFIED = 19;
    public const int CFOIL_LANE_OPENING = 1;
    public const int CFOIL_LANE_STARTING = 2;
    public const int CFOIL_LANE_IDLE = 3;
    public const int CFOIL_LANE_ACCEPTING = 4;
    public const int CFOIL_LANE_FAULT = 5;
    public const int CFOIL_LANE_LOST = 6;
    public const int CFOIL_LANE_ENDED = 7;
    public const int CFOIL_ACCEPT_NONE = 0;
    public const int CFOIL_ACCEPT_HOLD = 1;
    public const int CFOIL_ACCEPT_ALL = 2;
    public const int CFOIL_SENSE_FEEL = 1;
    public const int CFOIL_SENSE_LOOK = 2;
    public const int CFOIL_SENSE_TILT = 3;
    public const int CFOIL_SENSE_TOOL = 4;
    public const int CFOIL_TOOL_MAGNIFIER = 1;
    public const int CFOIL_TOOL_UV_A = 2;
    public const int CFOIL_TOOL_RULER = 4;
    public const int CFOIL_TOOL_KNOWN_NOTE = 8;
    public const int CFOIL_WITHOUT_BACK_LIGHT = 1;
    public const int CFOIL_WITHOUT_COLOUR_VISION = 2;
    public const int CFOIL_WITHOUT_BOTH_HANDS = 4;
    public const int CFOIL_ANSWER_AS_IT_SHOULD_BE = 1;
    public const int CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE = 2;
    public const int CFOIL_ANSWER_CANNOT_TELL = 3;
    public const int CFOIL_STEP_CHECK = 1;
    public const int CFOIL_STEP_ADVICE = 2;
    public const int CFOIL_ADVICE_NONE = 0;
    public const int CFOIL_ADVICE_TAKE = 1;
    public const int CFOIL_ADVICE_ASK_ANOTHER = 2;
    public const int CFOIL_ADVICE_SET_ASIDE = 3;
    public const int CFOIL_ADVICE_FEED_AGAIN = 4;
    public const int CFOIL_ADVICE_CHECK_MACHINE = 5;
    public const int CFOIL_DISPOSITION_NONE = 0;
    public const int CFOIL_DISPOSITION_TAKEN = 1;
    public const int CFOIL_DISPOSITION_NOT_TAKEN = 2;
    public const int CFOIL_DISPOSITION_SET_ASIDE = 3;
    public const int CFOIL_DISPOSITION_ABANDONED = 4;
    public const int CFOIL_CUSTODY_FIND = 1;
    public const int CFOIL_CUSTODY_SEAL = 2;
    public const int CFOIL_CUSTODY_CARRY = 3;
    public const int CFOIL_CUSTODY_HAND_OVER = 4;
    public const int CFOIL_CUSTODY_GENUINE = 5;
    public const int CFOIL_CUSTODY_NOT_GENUINE = 6;
    public const int CFOIL_CUSTODY_LOSE = 7;
    public const int CFOIL_CUSTODY_GIVE_BACK = 8;
    public const int CFOIL_HOLDER_BANK = 1;
    public const int CFOIL_HOLDER_POLICE = 2;
    public const int CFOIL_HOLDER_CENTRAL_BANK = 3;
    public const int CFOIL_ROLE_NONE = 0;
    public const int CFOIL_ROLE_CASHIER = 1;
    public const int CFOIL_ROLE_SUPERVISOR = 2;
    public const int CFOIL_ROLE_AUDITOR = 3;
    public const int CFOIL_SIGN_CHECKPOINT = 1;
    public const int CFOIL_SIGN_NEW_KEY = 2;
    public const int CFOIL_LIST_OPEN_CASES = 1;
    public const int CFOIL_LIST_CUSTODY = 2;
    public const int CFOIL_LIST_CASE = 3;
    public const int CFOIL_LIST_STAFF = 4;
    public const int CFOIL_LIST_SETTINGS = 5;
    public const int CFOIL_LIST_KEYS = 6;
    public const int CFOIL_TENDER_FREE = 1;
    public const int CFOIL_TENDER_CASE_OPEN = 2;
    public const int CFOIL_TENDER_REFUSED = 3;
    public const int CFOIL_RIGHTS_OWNER = 0;
    public const int CFOIL_RIGHTS_GROUP = 1;
    public const int CFOIL_RIGHTS_ANY = 2;
    public const int CFOIL_LOG_ERROR = 1;
    public const int CFOIL_LOG_WARNING = 2;
    public const int CFOIL_LOG_NOTICE = 3;
    public const int CFOIL_LOG_DEBUG = 4;
    public const int CFOIL_EVENT_WHILE_AWAY = 1;
    public const int CFOIL_EVENT_RECORDED = 2;
    public const int CFOIL_CHECKSUM_NONE = 0;
    public const int CFOIL_CHECKSUM_FITS = 1;
    public const int CFOIL_CHECKSUM_DIFFERS = 2;
    public const int CFOIL_FORMAT_JSON = 1;
    public const int CFOIL_FORMAT_TEXT = 2;
    public const int CFOIL_FORMAT_CSV = 3;
    public const int CFOIL_FORMAT_HTML = 4;
    public const int CFOIL_EXPORT_JSON_LINES = 1;
    public const int CFOIL_EXPORT_CSV = 2;
    public const int CFOIL_TABLE_PRESENTATIONS = 1;
    public const int CFOIL_TABLE_CASES = 2;
    public const int CFOIL_TABLE_CUSTODY = 3;
    public const int CFOIL_PAPER_RECEIPT = 1;
    public const int CFOIL_PAPER_LABEL = 2;
    public const int CFOIL_PAPER_HAND_OVER = 3;
    public const int CFOIL_PAPER_PERIOD = 4;
    public const int CFOIL_PAPER_PLAIN_42 = 1;
    public const int CFOIL_PAPER_PLAIN_48 = 2;
    public const int CFOIL_PAPER_HTML = 3;

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_log_record
    {
        public uint struct_size;
        public int level;
        public int result;
        public int os_code;
        public ulong monotonic_us;
        public IntPtr area;
        public IntPtr lane;
        public IntPtr key;
        public IntPtr text;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_finding
    {
        public int channel;
        public int strength;
        public int origin;
        public int reserved;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_lane_options
    {
        public uint struct_size;
        public int accept;
        public IntPtr name;
        public IntPtr adapter;
        public IntPtr port;
        public IntPtr record_path;
        public IntPtr settings;
        public IntPtr ledger;
        public uint queue_length;
        public uint reconnect_ms;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_devices_options
    {
        public uint struct_size;
        public uint wait_ms;
        public IntPtr listen_port;
        public IntPtr probe_port;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_case_options
    {
        public uint struct_size;
        public uint tools;
        public IntPtr ledger;
        public IntPtr currency;
        public long value_minor;
        public IntPtr series;
        public IntPtr jurisdiction;
        public IntPtr lane;
        public IntPtr sale;
        public IntPtr staff;
        public uint check_limit;
        public uint reserved;
        public IntPtr language;
        public uint without;
        public uint seconds_limit;
        public long today_utc_ms;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_step
    {
        public uint struct_size;
        public int kind;
        public int advice;
        public int sense;
        public int side;
        public uint number;
        public uint number_max;
        public uint dispositions;
        public int box_known;
        public int left_permille;
        public int top_permille;
        public int right_permille;
        public int bottom_permille;
        public int reserved;
        public IntPtr check;
        public IntPtr title;
        public IntPtr instruction;
        public IntPtr expected;
        public IntPtr doubtful;
        public IntPtr hint;
        public IntPtr say;
        public IntPtr reasons;
        public IntPtr caution;
        public IntPtr source;
        public IntPtr where;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_disposition_options
    {
        public uint struct_size;
        public int disposition;
        public IntPtr envelope;
        public IntPtr override_by;
        public IntPtr override_why;
        public IntPtr session;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_ledger_options
    {
        public uint struct_size;
        public uint busy_ms;
        public IntPtr path;
        public IntPtr store;
        public int read_only;
        public int rights;
        public int checkpoint_entries;
        public int reserved;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_custody_options
    {
        public uint struct_size;
        public int move;
        public IntPtr case_id;
        public IntPtr staff;
        public IntPtr session;
        public IntPtr second;
        public IntPtr second_session;
        public IntPtr envelope;
        public IntPtr place;
        public IntPtr keeper;
        public IntPtr receipt;
        public IntPtr why;
        public int holder;
        public int reserved;
        public long happened_utc_ms;
        public long value_minor;
        public IntPtr currency;
        public IntPtr serial;
        public IntPtr lane;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_reconcile_options
    {
        public uint struct_size;
        public uint reserved;
        public IntPtr envelopes;
        public long from_utc_ms;
        public long until_utc_ms;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_report_options
    {
        public uint struct_size;
        public int format;
        public long from_utc_ms;
        public long until_utc_ms;
        public IntPtr lane;
        public IntPtr store;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_paper_options
    {
        public uint struct_size;
        public int kind;
        public int format;
        public int utc_offset_minutes;
        public IntPtr case_id;
        public long from_utc_ms;
        public long until_utc_ms;
        public IntPtr language;
        public IntPtr jurisdiction;
        public IntPtr shop;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_person_options
    {
        public uint struct_size;
        public uint days;
        public IntPtr session;
        public IntPtr case_id;
        public IntPtr jurisdiction;
        public IntPtr name;
        public IntPtr contact;
        public IntPtr id_shown;
        public IntPtr note;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct cfoil_argument
    {
        public IntPtr name;
        public IntPtr text;
        public long number;
    }

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern IntPtr cfoil_version();

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern IntPtr cfoil_error_text(int result);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_result_action(int result);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_error_read(IntPtr handle, IntPtr info);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_context_open(IntPtr options, out IntPtr context);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern void cfoil_context_close(IntPtr context);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_context_shutdown(IntPtr context);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_pack_directory_add(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string directory);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_pack_check(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string path, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_catalogue_json(IntPtr context, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_message(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string language, [MarshalAs(UnmanagedType.LPUTF8Str)] string key, IntPtr arguments, UIntPtr argument_count, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_language_check(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string language, out uint missing, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_matrix_json(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string currency, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_damaged_json(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string request, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_damaged_text(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string request, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_damaged_grid(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string currency, long value_minor, [MarshalAs(UnmanagedType.LPUTF8Str)] string series, uint side_mm, [MarshalAs(UnmanagedType.LPUTF8Str)] string language, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_serial_check(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string currency, [MarshalAs(UnmanagedType.LPUTF8Str)] string serial, IntPtr result);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_adapter_register(IntPtr context, IntPtr adapter);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_adapter_describe(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string path);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_adapter_load(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string path);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_devices_json(IntPtr context, IntPtr options, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_lane_open(IntPtr context, IntPtr options, out IntPtr lane);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern void cfoil_lane_close(IntPtr lane);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_lane_wait(IntPtr lane, uint timeout_ms, IntPtr @event);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_lane_poll(IntPtr lane, IntPtr @event);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_lane_wait_handle(IntPtr lane, out IntPtr handle);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_lane_accept(IntPtr lane, int accept);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_note_stack(IntPtr lane, ulong presentation);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_note_return(IntPtr lane, ulong presentation);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_note_hold(IntPtr lane, ulong presentation, uint hold_ms);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_event_json(IntPtr @event, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_open(IntPtr context, IntPtr options, out IntPtr handle);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern void cfoil_case_close(IntPtr handle);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_presentation_add(IntPtr handle, IntPtr @event);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_step(IntPtr handle, IntPtr step);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_answer(IntPtr handle, [MarshalAs(UnmanagedType.LPUTF8Str)] string check, int answer);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_serial_set(IntPtr handle, [MarshalAs(UnmanagedType.LPUTF8Str)] string serial, IntPtr result);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_dispose(IntPtr handle, IntPtr options, IntPtr record);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_json(IntPtr handle, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_explain(IntPtr context, [MarshalAs(UnmanagedType.LPUTF8Str)] string case_json, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_picture(IntPtr handle, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_open(IntPtr context, IntPtr options, out IntPtr ledger);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern void cfoil_ledger_close(IntPtr ledger);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_entry_json(IntPtr ledger, long number, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_case_json(IntPtr ledger, [MarshalAs(UnmanagedType.LPUTF8Str)] string case_id, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_verify(IntPtr ledger, IntPtr check);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_rebuild(IntPtr ledger);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_sign(IntPtr ledger, int what, IntPtr session, [MarshalAs(UnmanagedType.LPUTF8Str)] string staff, IntPtr record);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_report_write(IntPtr ledger, IntPtr options, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_export(IntPtr ledger, IntPtr options);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_import(IntPtr ledger, IntPtr options, IntPtr result);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_case_resume(IntPtr context, IntPtr ledger, [MarshalAs(UnmanagedType.LPUTF8Str)] string case_id, out IntPtr handle);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_tender_check(IntPtr ledger, [MarshalAs(UnmanagedType.LPUTF8Str)] string sale, IntPtr tender);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_custody_move(IntPtr ledger, IntPtr options, IntPtr record);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_ledger_list_json(IntPtr ledger, int list, [MarshalAs(UnmanagedType.LPUTF8Str)] string only, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_reconcile_json(IntPtr ledger, IntPtr options, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_paper_write(IntPtr ledger, IntPtr options, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_sign_in(IntPtr ledger, [MarshalAs(UnmanagedType.LPUTF8Str)] string staff, [MarshalAs(UnmanagedType.LPUTF8Str)] string pin, uint seconds, out IntPtr session);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern void cfoil_sign_out(IntPtr session);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_staff_set(IntPtr ledger, IntPtr session, [MarshalAs(UnmanagedType.LPUTF8Str)] string staff, int role, [MarshalAs(UnmanagedType.LPUTF8Str)] string pin);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_setting_set(IntPtr ledger, IntPtr session, [MarshalAs(UnmanagedType.LPUTF8Str)] string staff, [MarshalAs(UnmanagedType.LPUTF8Str)] string name, [MarshalAs(UnmanagedType.LPUTF8Str)] string value);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_person_set(IntPtr ledger, IntPtr options, IntPtr record);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_person_json(IntPtr ledger, IntPtr session, [MarshalAs(UnmanagedType.LPUTF8Str)] string case_id, byte[] buffer, UIntPtr capacity, out UIntPtr needed);

    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]
    public static extern int cfoil_person_erase(IntPtr ledger, IntPtr session, [MarshalAs(UnmanagedType.LPUTF8Str)] string staff, [MarshalAs(UnmanagedType.LPUTF8Str)] string case_id, out uint erased);
}
