/*
 * counterfoil serial: was this serial number read well?
 */
#include "commands.h"
#include "host.h"
#include "print.h"

#include <stdio.h>

static const char *checksum_word(int32_t checksum)
{
    if (checksum == CFOIL_CHECKSUM_FITS)
        return "fits";
    return checksum == CFOIL_CHECKSUM_DIFFERS ? "differs" : "none";
}

static void serial_print_json(const char *currency, const cfoil_serial *serial)
{
    const char *const members[][2] = {
        {"currency", currency},     {"serial", serial->normalised}, {"checksum", checksum_word(serial->checksum)},
        {"series", serial->series}, {"issuer", serial->issuer},     {"text", serial->text},
    };
    printf("{\"format_known\":%s", serial->format_known ? "true" : "false");
    for (size_t i = 0; i < sizeof members / sizeof members[0]; i++) {
        printf(",\"%s\":", members[i][0]);
        print_json_string(stdout, members[i][1]);
    }
    printf("}\n");
}

static void serial_print_text(const cfoil_serial *serial)
{
    printf("%s\n", serial->normalised);
    if (serial->series[0] != '\0')
        print_wrapped(stdout, "  series:", 12, serial->series);
    if (serial->issuer[0] != '\0')
        print_wrapped(stdout, "  issuer:", 12, serial->issuer);
    print_wrapped(stdout, "  result:", 12, serial->text);
    print_wrapped(stdout, "  caution:", 12,
                  "This says only whether the number was read well. It is no proof of anything about the note: copies "
                  "carry numbers of genuine notes.");
}

int serial_run(const struct arguments *arguments)
{
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    const char *currency = arguments->words[0];
    int32_t result = cfoil_serial_check(host.context, currency, arguments->words[1], &serial);
    if (result != CFOIL_OK) {
        code = failure_report(host.context, result, "cannot check the serial number");
    } else {
        if (arguments->values[OPTION_JSON] != NULL)
            serial_print_json(currency, &serial);
        else
            serial_print_text(&serial);
        code = serial.format_known && serial.checksum == CFOIL_CHECKSUM_FITS ? TOOL_OK : TOOL_FAILED;
    }
    host_close(&host);
    return code;
}
