/*
 * How are results shown? See report.h.
 */
#include "report.h"

#include <errno.h>
#include <string.h>

enum { EVIDENCE_RECORDS = 14 };

void report_begin(const struct options *options, unsigned count)
{
    if (options->tap)
        printf("TAP version 14\n1..%u\n", count);
    else
        printf("%u cases on %s with adapter %s\n", count, options->port, options->adapter);
    cfoil_line line;
    enum transport_way way;
    if (!line_protocol(options->adapter, &way, &line))
        printf("%sno wire cases know what '%s' speaks: only the adapter cases are run, without a look at the wire\n",
               options->tap ? "# " : "", options->adapter);
    fflush(stdout);
}

/* YAML, quoted: every character but ours is escaped. */
static void yaml_text(const char *key, const char *text)
{
    printf("  %s: \"", key);
    for (; *text != '\0'; text++) {
        if (*text == '"' || *text == '\\')
            putchar('\\');
        putchar(*text == '\n' ? ' ' : *text);
    }
    printf("\"\n");
}

static void tap_trial(unsigned number, const struct trial *trial, const struct line *line)
{
    const struct conformance_case *item = trial->item;
    printf("%s %u - %s", trial->result == RESULT_FAILED ? "not ok" : "ok", number, item->id);
    if (trial->result == RESULT_SKIPPED)
        printf(" # SKIP %s", trial->why);
    printf("\n");
    if (trial->result == RESULT_SKIPPED || (trial->result == RESULT_PASSED && trial->figures[0] == '\0'))
        return;
    printf("  ---\n");
    if (trial->result == RESULT_FAILED) {
        yaml_text("message", trial->why);
        yaml_text("clause", item->clause);
        yaml_text("trust", item->trust);
        yaml_text("proves", item->proves);
    }
    if (trial->figures[0] != '\0')
        yaml_text("figures", trial->figures);
    if (trial->evidence[0] != '\0')
        yaml_text("trace", trial->evidence);
    if (trial->result == RESULT_FAILED && line != NULL && line_journal_count(line) > 0) {
        printf("  wire: |\n");
        line_journal_print(line, EVIDENCE_RECORDS, "    ", stdout);
    }
    printf("  ...\n");
}

static void text_trial(const struct trial *trial, const struct line *line)
{
    const char *file = trial->options->adapter_file;
    const char *description = trial->options->description;
    static const char *const words[] = {"pass", "skip", "FAIL"};
    const struct conformance_case *item = trial->item;
    printf("%s  %-40s %6.1f s", words[trial->result], item->id, (double)trial->took_us / 1000000);
    if (trial->result == RESULT_SKIPPED)
        printf("  %s", trial->why);
    else if (trial->figures[0] != '\0')
        printf("  %s", trial->figures);
    printf("\n");
    if (trial->result != RESULT_FAILED)
        return;
    printf("      %s\n      rule (%s): %s\n      proves: %s\n", trial->why, item->trust, item->clause, item->proves);
    if (line != NULL && line_journal_count(line) > 0) {
        printf("      the last that was sent and received:\n");
        line_journal_print(line, EVIDENCE_RECORDS, "      ", stdout);
    }
    if (trial->evidence[0] == '\0')
        return;
    if (item->side == SIDE_WIRE)
        printf("      repeat it offline: counterfoil-conform %s%s%s--adapter %s --cases %s --port trace:%s\n",
               description != NULL ? "--description " : "", description != NULL ? description : "",
               description != NULL ? " " : "", trial->options->adapter, item->id, trial->evidence);
    else
        printf("      look at it offline: counterfoil watch %s%s%s--adapter %s --port trace:%s\n",
               file != NULL ? "--adapter-file " : "", file != NULL ? file : "", file != NULL ? " " : "",
               trial->options->adapter, trial->evidence);
}

void report_trial(const struct options *options, unsigned number, const struct trial *trial, const struct line *line)
{
    if (options->tap)
        tap_trial(number, trial, line);
    else
        text_trial(trial, line);
    fflush(stdout);
}

static unsigned result_count(const struct finished *finished, unsigned count, enum result result)
{
    unsigned found = 0;
    for (unsigned i = 0; i < count; i++)
        found += finished[i].result == result;
    return found;
}

void report_end(const struct options *options, const struct finished *finished, unsigned count)
{
    unsigned failed = result_count(finished, count, RESULT_FAILED);
    unsigned skipped = result_count(finished, count, RESULT_SKIPPED);
    if (options->tap)
        return;
    printf("%u passed, %u failed, %u skipped\n", count - failed - skipped, failed, skipped);
    for (unsigned i = 0; i < count; i++) {
        if (finished[i].result == RESULT_FAILED)
            printf("failed: %s\n", finished[i].item->id);
    }
}

/* ---- JUnit XML ---- */

static void xml_text(FILE *file, const char *text)
{
    for (; text != NULL && *text != '\0'; text++) {
        if (*text == '&')
            fputs("&amp;", file);
        else if (*text == '<')
            fputs("&lt;", file);
        else if (*text == '>')
            fputs("&gt;", file);
        else if (*text == '"')
            fputs("&quot;", file);
        else
            fputc((unsigned char)*text < 0x20 ? ' ' : *text, file);
    }
}

static void xml_attribute(FILE *file, const char *name, const char *text)
{
    fprintf(file, " %s=\"", name);
    xml_text(file, text);
    fputc('"', file);
}

/* "cctalk/framing/simple-poll" -> class "cctalk.framing", name "simple-poll". */
static void junit_case(FILE *file, const struct finished *one)
{
    char group[96];
    snprintf(group, sizeof group, "%s", one->item->id);
    char *name = strrchr(group, '/');
    *name++ = '\0';
    for (char *at = strchr(group, '/'); at != NULL; at = strchr(at, '/'))
        *at = '.';
    fprintf(file, "    <testcase");
    xml_attribute(file, "classname", group);
    xml_attribute(file, "name", name);
    fprintf(file, " time=\"%.3f\">\n", (double)one->took_us / 1000000);
    if (one->result == RESULT_FAILED) {
        fprintf(file, "      <failure");
        xml_attribute(file, "message", one->text);
        xml_attribute(file, "type", one->item->trust);
        fputc('>', file);
        xml_text(file, one->item->clause);
        fprintf(file, "</failure>\n");
    } else if (one->result == RESULT_SKIPPED) {
        fprintf(file, "      <skipped");
        xml_attribute(file, "message", one->text);
        fprintf(file, "/>\n");
    } else if (one->text != NULL && one->text[0] != '\0') {
        fprintf(file, "      <system-out>");
        xml_text(file, one->text);
        fprintf(file, "</system-out>\n");
    }
    fprintf(file, "    </testcase>\n");
}

bool report_junit(const struct options *options, const struct finished *finished, unsigned count)
{
    FILE *file = fopen(options->junit, "w");
    if (file == NULL) {
        fprintf(stderr, "counterfoil-conform: %s: %s\n", options->junit, strerror(errno));
        return false;
    }
    uint64_t took_us = 0;
    for (unsigned i = 0; i < count; i++)
        took_us += finished[i].took_us;
    unsigned failed = result_count(finished, count, RESULT_FAILED);
    unsigned skipped = result_count(finished, count, RESULT_SKIPPED);
    fprintf(file, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n  <testsuite");
    xml_attribute(file, "name", "counterfoil-conform");
    fprintf(file, " tests=\"%u\" failures=\"%u\" errors=\"0\" skipped=\"%u\" time=\"%.3f\">\n    <properties>\n", count,
            failed, skipped, (double)took_us / 1000000);
    fprintf(file, "      <property name=\"adapter\"");
    xml_attribute(file, "value", options->adapter);
    fprintf(file, "/>\n      <property name=\"port\"");
    xml_attribute(file, "value", options->port);
    fprintf(file, "/>\n    </properties>\n");
    for (unsigned i = 0; i < count; i++)
        junit_case(file, &finished[i]);
    fprintf(file, "  </testsuite>\n</testsuites>\n");
    bool good = fflush(file) == 0 && !ferror(file);
    if (!good)
        fprintf(stderr, "counterfoil-conform: %s cannot be written\n", options->junit);
    fclose(file);
    return good;
}

void report_list(const struct conformance_case *const *cases, unsigned count)
{
    for (unsigned i = 0; i < count; i++)
        printf("%s\n    rule (%s): %s\n    proves: %s\n    tester: %s\n", cases[i]->id, cases[i]->trust,
               cases[i]->clause, cases[i]->proves, cases[i]->tester != NULL ? cases[i]->tester : "nothing");
}
