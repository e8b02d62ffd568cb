import com.sun.jna.Library;
import com.sun.jna.Memory;
import com.sun.jna.Native;
import com.sun.jna.Pointer;
import com.sun.jna.Structure;
import com.sun.jna.ptr.LongByReference;
import com.sun.jna.ptr.PointerByReference;
import java.nio.charset.StandardCharsets;
import java.util.Map;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * The smallest useful host in Java: serves one machine and leads the first note in doubt to its record.
 * java Host LIBRARY ADAPTER PORT LEDGER
 */
public final class Host {
    static final int EVENT_SIZE = 4096; // more than the struct has; its own first four bytes say so
    static final int ACCEPT_ALL = 2;
    static final int ANSWER_NOT_AS_IT_SHOULD_BE = 2;
    static final int DISPOSITION_NOT_TAKEN = 2;

    /** Every struct that we fill begins with its size. */
    public abstract static class Sized extends Structure {
        public int struct_size;

        void finish() {
            struct_size = size();
            write();
        }
    }

    @Structure.FieldOrder({"struct_size", "busy_ms", "path", "store", "read_only", "rights"})
    public static class LedgerOptions extends Sized {
        public int busy_ms;
        public String path, store;
        public int read_only, rights;
    }

    @Structure.FieldOrder({"struct_size", "accept", "name", "adapter", "port", "record_path", "settings", "ledger",
        "queue_length", "reconnect_ms"})
    public static class LaneOptions extends Sized {
        public int accept;
        public String name, adapter, port, record_path, settings;
        public Pointer ledger;
        public int queue_length, reconnect_ms;
    }

    @Structure.FieldOrder({"struct_size", "tools", "ledger", "currency", "value_minor", "series", "jurisdiction",
        "lane", "sale", "staff", "check_limit", "reserved"})
    public static class CaseOptions extends Sized {
        public int tools;
        public Pointer ledger;
        public String currency;
        public long value_minor;
        public String series, jurisdiction, lane, sale, staff;
        public int check_limit, reserved;
    }

    @Structure.FieldOrder({"struct_size", "disposition", "envelope", "override_by", "override_why", "session"})
    public static class DispositionOptions extends Sized {
        public int disposition;
        public String envelope, override_by, override_why;
        public Pointer session;
    }

    public interface Calls extends Library {
        String cfoil_error_text(int result);
        int cfoil_context_open(Pointer options, PointerByReference context);
        void cfoil_context_close(Pointer context);
        int cfoil_ledger_open(Pointer context, LedgerOptions options, PointerByReference ledger);
        int cfoil_lane_open(Pointer context, LaneOptions options, PointerByReference lane);
        int cfoil_lane_wait(Pointer lane, int timeout_ms, Pointer event);
        int cfoil_event_json(Pointer event, Pointer buffer, long capacity, LongByReference needed);
        int cfoil_case_open(Pointer context, CaseOptions options, PointerByReference doubt);
        int cfoil_case_presentation_add(Pointer doubt, Pointer event);
        int cfoil_case_json(Pointer doubt, Pointer buffer, long capacity, LongByReference needed);
        int cfoil_case_answer(Pointer doubt, String check, int answer);
        int cfoil_case_dispose(Pointer doubt, DispositionOptions options, Pointer record);
    }

    private final Calls calls;

    private Host(String path) {
        calls = Native.load(path, Calls.class, Map.of(Library.OPTION_STRING_ENCODING, "UTF-8"));
    }

    private void need(int result) {
        if (result != 0)
            throw new IllegalStateException(calls.cfoil_error_text(result));
    }

    private interface TextCall {
        int fetch(Pointer handle, Pointer buffer, long capacity, LongByReference needed);
    }

    /** A JSON text of unknown length: ask, then fetch. */
    private String document(TextCall call, Pointer handle) {
        LongByReference needed = new LongByReference();
        call.fetch(handle, null, 0, needed);
        Memory text = new Memory(needed.getValue());
        need(call.fetch(handle, text, text.size(), needed));
        return text.getString(0, StandardCharsets.UTF_8.name());
    }

    /** The first text or null under a key. A real host has a JSON library; the JDK has none. */
    private static String find(String json, String key) {
        Matcher found = Pattern.compile("\"" + key + "\":\"((?:[^\"\\\\]|\\\\.)*)\"").matcher(json);
        return found.find() ? found.group(1) : null;
    }

    private static String step(String json) {
        return json.substring(json.indexOf("\"step\":{"));
    }

    private void caseLead(Pointer context, Pointer ledger, Pointer event, String told) {
        CaseOptions options = new CaseOptions();
        options.ledger = ledger;
        options.currency = find(told, "currency") != null ? find(told, "currency") : "EUR";
        Matcher value = Pattern.compile("\"value_minor\":(\\d+)").matcher(told);
        options.value_minor = value.find() ? Long.parseLong(value.group(1)) : 5000; // a real host asks which note
        options.finish();
        PointerByReference opened = new PointerByReference();
        need(calls.cfoil_case_open(context, options, opened));
        Pointer doubt = opened.getValue();
        need(calls.cfoil_case_presentation_add(doubt, event));
        String step = step(document(calls::cfoil_case_json, doubt));
        while ("check".equals(find(step, "kind"))) { // a real host shows the step and waits for the cashier
            System.out.println(find(step, "title") + ": " + find(step, "instruction"));
            need(calls.cfoil_case_answer(doubt, find(step, "check"), ANSWER_NOT_AS_IT_SHOULD_BE));
            step = step(document(calls::cfoil_case_json, doubt));
        }
        System.out.println(find(step, "title") + ": " + find(step, "say"));
        DispositionOptions end = new DispositionOptions();
        end.disposition = DISPOSITION_NOT_TAKEN;
        end.finish();
        need(calls.cfoil_case_dispose(doubt, end, null));
        String ended = document(calls::cfoil_case_json, doubt);
        System.out.println("case " + find(ended, "case") + " " + find(ended, "disposition"));
    }

    private void serve(String adapter, String port, String store) {
        PointerByReference opened = new PointerByReference();
        need(calls.cfoil_context_open(null, opened));
        Pointer context = opened.getValue();
        LedgerOptions ledgerOptions = new LedgerOptions();
        ledgerOptions.path = store;
        ledgerOptions.finish();
        need(calls.cfoil_ledger_open(context, ledgerOptions, opened));
        Pointer ledger = opened.getValue();
        LaneOptions laneOptions = new LaneOptions();
        laneOptions.accept = ACCEPT_ALL;
        laneOptions.adapter = adapter;
        laneOptions.port = port;
        laneOptions.ledger = ledger;
        laneOptions.finish();
        need(calls.cfoil_lane_open(context, laneOptions, opened));
        Pointer lane = opened.getValue();
        Memory event = new Memory(EVENT_SIZE);
        for (;;) {
            event.clear();
            event.setInt(0, EVENT_SIZE);
            need(calls.cfoil_lane_wait(lane, 60000, event));
            String told = document(calls::cfoil_event_json, event);
            String reason = find(told, "reason");
            if ("authenticity".equals(reason) || "not_recognised".equals(reason)) {
                caseLead(context, ledger, event, told);
                break;
            }
            if ("ended".equals(find(told, "lane_state")))
                throw new IllegalStateException("the lane has ended");
        }
        calls.cfoil_context_close(context);
    }

    public static void main(String[] words) {
        if (words.length != 4) {
            System.err.println("usage: java Host LIBRARY ADAPTER PORT LEDGER");
            System.exit(2);
        }
        new Host(words[0]).serve(words[1], words[2], words[3]);
    }
}
