/*
 * Is a trace written and read as docs/traces.md says, and is every fault in it told with its line?
 */
#if defined(__linux__)
#define _GNU_SOURCE /* mkdtemp */
#endif
#include "test.h"

#include "model/memory.h"
#include "transport/trace.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#define HEADER "counterfoil-trace 1\nadapter toy\naccept hold\norigin synthetic\n"

static int32_t open_text(const char *text, struct trace_reader **reader, cfoil_error_info *error)
{
    return trace_reader_open_text(&memory_heap, text, strlen(text), reader, error);
}

/* Reads to the first result that is not CFOIL_OK. */
static int32_t read_all(const char *text, cfoil_error_info *error)
{
    struct trace_reader *reader;
    struct trace_record record;
    int32_t result = open_text(text, &reader, error);
    if (result != CFOIL_OK) {
        assert_null(reader);
        return result;
    }
    do {
        result = trace_read(reader, &record, error);
    } while (result == CFOIL_OK);
    trace_reader_close(reader);
    return result;
}

static void test_good_trace(void **state)
{
    (void)state;
    static const char text[] = "counterfoil-trace 1\n"
                               "# made by hand: \xc3\xa9\n"
                               "adapter toy-2\n"
                               "settings currency=EUR;poll_ms=200\n"
                               "\n"
                               "accept all\n"
                               "origin captured\n"
                               "0 open all\n"
                               "0 to 02 00 01 fe FF\n"
                               "# a comment\n"
                               "18446744 from 0203\n"
                               "18446744 memory cctalk/1193046 none\n"
                               "18446745 memory cctalk/2 0a0B\n"
                               "18446745 tick\n"
                               "18446746 do accept none\n"
                               "18446746 do stack\n"
                               "18446746 do return\n"
                               "18446746 do hold 600000\n"
                               "18446746 do quit\n"
                               "9223372036854775807 lost gone\n"
                               "9223372036854775807 lost failed\n";
    struct trace_reader *reader;
    struct trace_record record;
    assert_int_equal(open_text(text, &reader, NULL), CFOIL_OK);
    const struct trace_header *header = trace_reader_header(reader);
    assert_string_equal(header->adapter, "toy-2");
    assert_string_equal(header->settings, "currency=EUR;poll_ms=200");
    assert_int_equal(header->accept, CFOIL_ACCEPT_ALL);
    assert_true(header->captured);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.mark, TRACE_OPEN);
    assert_int_equal(record.argument, CFOIL_ACCEPT_ALL);
    assert_int_equal(trace_reader_line(reader), 8);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.mark, TRACE_TO);
    assert_int_equal(record.length, 5);
    assert_memory_equal(record.bytes, "\x02\x00\x01\xfe\xff", 5);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.mark, TRACE_FROM);
    assert_int_equal(record.time_us, 18446744);
    assert_int_equal(record.length, 2);
    assert_int_equal(trace_reader_line(reader), 11);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.mark, TRACE_MEMORY);
    assert_string_equal(record.device, "cctalk/1193046");
    assert_int_equal(record.length, 0);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_memory_equal(record.bytes, "\x0a\x0b", 2);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.mark, TRACE_TICK);
    static const int32_t commands[][2] = {{CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE},
                                          {CFOIL_COMMAND_STACK, 0},
                                          {CFOIL_COMMAND_RETURN, 0},
                                          {CFOIL_COMMAND_HOLD, 600000},
                                          {CFOIL_COMMAND_QUIT, 0}};
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
        assert_int_equal(record.mark, TRACE_COMMAND);
        assert_int_equal(record.command, commands[i][0]);
        assert_int_equal(record.argument, commands[i][1]);
    }
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.mark, TRACE_LOST);
    assert_int_equal(record.argument, CFOIL_E_PORT_GONE);
    assert_int_equal(record.time_us, INT64_MAX);
    assert_int_equal(trace_read(reader, &record, NULL), CFOIL_OK);
    assert_int_equal(record.argument, CFOIL_E_PORT_FAILED);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(trace_read(reader, &record, &error), CFOIL_E_PORT_ENDED);
    assert_int_equal(trace_read(reader, &record, &error), CFOIL_E_PORT_ENDED);
    trace_reader_close(reader);
    trace_reader_close(NULL);
}

static void test_bad_headers(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t line;
    } cases[] = {
        {"", 1},
        {"\n", 1},
        {"counterfoil-trace 2\n", 1},
        {"counterfoil-trace 1", 1},
        {"counterfoil-trace 1\r\n", 1},
        {"\xef\xbb\xbf"
         "counterfoil-trace 1\n",
         1},
        {"counterfoil-trace 1\n", 1},
        {"counterfoil-trace 1\n\n# only\n", 3},
        {"counterfoil-trace 1\naccept hold\n", 2},
        {"counterfoil-trace 1\nadapter\n", 2},
        {"counterfoil-trace 1\nadapter \n", 2},
        {"counterfoil-trace 1\nadapter Toy\n", 2},
        {"counterfoil-trace 1\nadapter 12345678901234567\n", 2},
        {"counterfoil-trace 1\nadapter toy\n", 2},
        {"counterfoil-trace 1\nadapter toy\nsettings \naccept hold\n", 3},
        {"counterfoil-trace 1\nadapter toy\nsettings a=1\n", 3},
        {"counterfoil-trace 1\nadapter toy\nsettings a=1\nsettings a=1\n", 4},
        {"counterfoil-trace 1\nadapter toy\naccept some\n", 3},
        {"counterfoil-trace 1\nadapter toy\norigin synthetic\n", 3},
        {"counterfoil-trace 1\nadapter toy\naccept hold\n", 3},
        {"counterfoil-trace 1\nadapter toy\naccept hold\norigin\n", 4},
        {"counterfoil-trace 1\nadapter toy\naccept hold\norigin elsewhere\n", 4},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(read_all(cases[i].text, &error), CFOIL_E_DATA_TRACE);
        assert_int_equal(error.line, cases[i].line);
        assert_int_equal(read_all(cases[i].text, NULL), CFOIL_E_DATA_TRACE);
    }
}

static void test_bad_records(void **state)
{
    (void)state;
    static const char *const cases[] = {
        "tick",
        " 0 tick",
        "x tick",
        "-1 tick",
        "00 tick",
        "9223372036854775808 tick",
        "99999999999999999999999 tick",
        "0",
        "0 ",
        "0 tock",
        "0  tick",
        "0 tick 1",
        "0 open",
        "0 open some",
        "0 open hold now",
        "0 lost",
        "0 lost busy",
        "0 lost gone again",
        "0 to",
        "0 to ",
        "0 to 0",
        "0 to 0g",
        "0 to 00  00",
        "0 to 00 ",
        "0 to 00 0",
        "0 from zz",
        "0 do",
        "0 do dance",
        "0 do stack 1",
        "0 do accept",
        "0 do accept some",
        "0 do hold",
        "0 do hold x",
        "0 do hold 600001",
        "0 memory",
        "0 memory ",
        "0 memory  none",
        "0 memory toy/1",
        "0 memory toy/1 nothing",
        "0 memory a1234567890123456789012345678901234567890123456789012345678901234 00",
        "0 memory toy/1 0000000000000000000000000000000000000000000000000000000000000000"
        "000000000000000000000000000000000000000000000000000000000000000000",
        "0 ti\tck",
        "0 \xc3\x28",
        "# \x01",
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[400];
        snprintf(text, sizeof text, HEADER "\n%s\n", cases[i]);
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(read_all(text, &error), CFOIL_E_DATA_TRACE);
        assert_int_equal(error.line, 6);
        assert_non_null(strstr(error.text, "line 6: "));
    }
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(read_all(HEADER "5 tick\n4 tick\n", &error), CFOIL_E_DATA_TRACE);
    assert_int_equal(error.line, 6);
    assert_int_equal(read_all(HEADER "5 tick\n6 tick", &error), CFOIL_E_DATA_TRACE);
    assert_int_equal(error.line, 6);
    struct trace_reader *reader;
    struct trace_record record;
    static const char zero[] = HEADER "0 tick\0\n";
    assert_int_equal(trace_reader_open_text(&memory_heap, zero, sizeof zero - 1, &reader, &error), CFOIL_OK);
    assert_int_equal(trace_read(reader, &record, &error), CFOIL_E_DATA_TRACE);
    trace_reader_close(reader);
}

static void test_line_length(void **state)
{
    (void)state;
    size_t header = strlen(HEADER);
    char *text = malloc(header + TRACE_LINE_MAX + 3);
    assert_non_null(text);
    memcpy(text, HEADER, header);
    memset(text + header, '#', TRACE_LINE_MAX + 1);
    text[header + TRACE_LINE_MAX + 1] = '\n';
    text[header + TRACE_LINE_MAX + 2] = '\0';
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(read_all(text, &error), CFOIL_E_DATA_TRACE);
    assert_int_equal(error.line, 5);
    text[header + TRACE_LINE_MAX] = '\n';
    text[header + TRACE_LINE_MAX + 1] = '\0';
    assert_int_equal(read_all(text, &error), CFOIL_E_PORT_ENDED);
    free(text);
}

struct folder {
    char name[32];
    char path[64];
};

static void folder_make(struct folder *folder)
{
    strcpy(folder->name, "/tmp/cfoil-trace-XXXXXX");
    assert_non_null(mkdtemp(folder->name));
    snprintf(folder->path, sizeof folder->path, "%s/a.trace", folder->name);
}

static void folder_remove(struct folder *folder)
{
    unlink(folder->path);
    rmdir(folder->name);
}

static const struct trace_header header_given = {"toy", "a=1;b=2", CFOIL_ACCEPT_NONE, true};

/* What is written is what is read, the longest record too; and each line is there as soon as the call returns. */
static void test_written_and_read(void **state)
{
    (void)state;
    static uint8_t long_bytes[TRACE_BYTES_MAX + 1];
    memset(long_bytes, 0xA5, sizeof long_bytes);
    char device[TRACE_DEVICE_MAX + 1];
    memset(device, 'd', TRACE_DEVICE_MAX);
    device[TRACE_DEVICE_MAX] = '\0';
    const struct trace_record records[] = {
        {.mark = TRACE_OPEN, .time_us = 1, .argument = CFOIL_ACCEPT_ALL},
        {.mark = TRACE_TICK, .time_us = 2},
        {.mark = TRACE_FROM, .time_us = 3, .bytes = long_bytes, .length = TRACE_BYTES_MAX},
        {.mark = TRACE_TO, .time_us = INT64_MAX, .bytes = long_bytes, .length = 1},
        {.mark = TRACE_COMMAND, .time_us = INT64_MAX, .command = CFOIL_COMMAND_ACCEPT, .argument = CFOIL_ACCEPT_HOLD},
        {.mark = TRACE_COMMAND, .time_us = INT64_MAX, .command = CFOIL_COMMAND_HOLD, .argument = 30000},
        {.mark = TRACE_COMMAND, .time_us = INT64_MAX, .command = CFOIL_COMMAND_QUIT},
        {.mark = TRACE_MEMORY, .time_us = INT64_MAX, .bytes = long_bytes, .length = 64, .device = device},
        {.mark = TRACE_MEMORY, .time_us = INT64_MAX, .length = 0, .device = "d"},
        {.mark = TRACE_LOST, .time_us = INT64_MAX, .argument = CFOIL_E_PORT_FAILED},
    };
    const size_t count = sizeof records / sizeof records[0];
    struct folder folder;
    struct trace_writer *writer;
    struct trace_reader *reader;
    struct trace_record found;
    folder_make(&folder);
    assert_int_equal(trace_writer_open(&memory_heap, folder.path, &header_given, &writer, NULL), CFOIL_OK);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(trace_write(writer, &records[i], NULL), CFOIL_OK);
    /* Not closed yet: all of it is there already. */
    assert_int_equal(trace_reader_open(&memory_heap, folder.path, &reader, NULL), CFOIL_OK);
    assert_memory_equal(trace_reader_header(reader), &header_given, sizeof header_given);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(trace_read(reader, &found, NULL), CFOIL_OK);
        assert_int_equal(found.mark, records[i].mark);
        assert_int_equal(found.time_us, records[i].time_us);
        assert_int_equal(found.command, records[i].command);
        assert_int_equal(found.argument, records[i].argument);
        assert_int_equal(found.length, records[i].length);
        if (found.length > 0)
            assert_memory_equal(found.bytes, records[i].bytes, found.length);
        if (records[i].device != NULL)
            assert_string_equal(found.device, records[i].device);
    }
    assert_int_equal(trace_read(reader, &found, NULL), CFOIL_E_PORT_ENDED);
    trace_reader_close(reader);
    trace_writer_close(writer);
    trace_writer_close(NULL);
    folder_remove(&folder);
}

static void test_records_that_do_not_fit(void **state)
{
    (void)state;
    static const uint8_t bytes[TRACE_BYTES_MAX + 1];
    const struct trace_record records[] = {
        {.mark = (enum trace_mark)0},
        {.mark = (enum trace_mark)99},
        {.mark = TRACE_OPEN, .argument = 9},
        {.mark = TRACE_LOST, .argument = CFOIL_OK},
        {.mark = TRACE_FROM, .bytes = bytes, .length = 0},
        {.mark = TRACE_TO, .bytes = bytes, .length = TRACE_BYTES_MAX + 1},
        {.mark = TRACE_COMMAND, .command = 9},
        {.mark = TRACE_COMMAND, .command = CFOIL_COMMAND_ACCEPT, .argument = 9},
        {.mark = TRACE_COMMAND, .command = CFOIL_COMMAND_HOLD, .argument = -1},
        {.mark = TRACE_MEMORY, .device = NULL},
        {.mark = TRACE_MEMORY, .device = ""},
        {.mark = TRACE_MEMORY, .device = "a b"},
        {.mark = TRACE_MEMORY, .device = "d", .bytes = bytes, .length = 65},
    };
    struct folder folder;
    struct trace_writer *writer;
    struct trace_reader *reader;
    struct trace_record found;
    folder_make(&folder);
    assert_int_equal(trace_writer_open(&memory_heap, folder.path, &header_given, &writer, NULL), CFOIL_OK);
    for (size_t i = 0; i < sizeof records / sizeof records[0]; i++)
        assert_int_equal(trace_write(writer, &records[i], NULL), CFOIL_E_DATA_SIZE);
    trace_writer_close(writer);
    assert_int_equal(trace_reader_open(&memory_heap, folder.path, &reader, NULL), CFOIL_OK);
    assert_int_equal(trace_read(reader, &found, NULL), CFOIL_E_PORT_ENDED); /* nothing half written */
    trace_reader_close(reader);
    folder_remove(&folder);
}

static void test_files(void **state)
{
    (void)state;
    struct folder folder;
    struct trace_writer *writer;
    struct trace_reader *reader;
    folder_make(&folder);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(trace_reader_open(&memory_heap, folder.path, &reader, &error), CFOIL_E_DATA_FILE);
    assert_non_null(strstr(error.text, "no such"));
    assert_int_equal(trace_reader_open(&memory_heap, folder.name, &reader, &error), CFOIL_E_DATA_FILE);
    assert_int_equal(mkfifo(folder.path, 0600), 0);
    assert_int_equal(trace_reader_open(&memory_heap, folder.path, &reader, &error), CFOIL_E_DATA_FILE);
    unlink(folder.path);
    assert_int_equal(trace_writer_open(&memory_heap, folder.path, &header_given, &writer, &error), CFOIL_OK);
    trace_writer_close(writer);
    /* Never over an existing file. */
    assert_int_equal(trace_writer_open(&memory_heap, folder.path, &header_given, &writer, &error), CFOIL_E_DATA_FILE);
    assert_null(writer);
    assert_non_null(strstr(error.text, "exists"));
    assert_int_equal(trace_writer_open(&memory_heap, "/nowhere/x", &header_given, &writer, &error), CFOIL_E_DATA_FILE);
    struct trace_header bad = header_given;
    bad.accept = 9;
    assert_int_equal(trace_writer_open(&memory_heap, "/nowhere/x", &bad, &writer, &error), CFOIL_E_ARGUMENT_RANGE);
    folder_remove(&folder);
}

/* A disk without room: told, and the writer can still be closed. */
static void test_full_disk(void **state)
{
    (void)state;
    struct trace_writer *writer;
    struct folder folder;
    folder_make(&folder);
    if (access("/dev/full", W_OK) != 0 || symlink("/dev/full", folder.path) != 0)
        skip();
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    /* An existing name is refused, whatever is behind it. */
    assert_int_equal(trace_writer_open(&memory_heap, folder.path, &header_given, &writer, &error), CFOIL_E_DATA_FILE);
    assert_null(writer);
    folder_remove(&folder);
}

struct failing {
    int left;
};

static void *failing_allocate(void *user, size_t size)
{
    struct failing *failing = user;
    return failing->left-- > 0 ? malloc(size) : NULL;
}

static void failing_release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void test_no_memory(void **state)
{
    (void)state;
    struct failing failing = {0};
    struct memory memory = {&failing, failing_allocate, failing_release};
    struct trace_writer *writer;
    struct trace_reader *reader;
    struct folder folder;
    folder_make(&folder);
    assert_int_equal(trace_writer_open(&memory, folder.path, &header_given, &writer, NULL), CFOIL_E_MEMORY);
    assert_int_not_equal(access(folder.path, F_OK), 0);
    assert_int_equal(trace_writer_open(&memory_heap, folder.path, &header_given, &writer, NULL), CFOIL_OK);
    trace_writer_close(writer);
    assert_int_equal(trace_reader_open(&memory, folder.path, &reader, NULL), CFOIL_E_MEMORY);
    assert_int_equal(trace_reader_open_text(&memory, HEADER, strlen(HEADER), &reader, NULL), CFOIL_E_MEMORY);
    folder_remove(&folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_trace),
        cmocka_unit_test(test_bad_headers),
        cmocka_unit_test(test_bad_records),
        cmocka_unit_test(test_line_length),
        cmocka_unit_test(test_written_and_read),
        cmocka_unit_test(test_records_that_do_not_fit),
        cmocka_unit_test(test_files),
        cmocka_unit_test(test_full_disk),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
