/*
 * Any bytes as a report descriptor of a HID device: refused, or lengths that a buffer of ours can hold.
 */
#include "fuzz.h"

#include "transport/usb_report.h"

static uint16_t longest(const uint16_t lengths[256], bool numbered)
{
    uint16_t found = 0;
    for (int i = 0; i < 256; i++) {
        demand(lengths[i] <= USB_REPORT_MAX);
        demand(lengths[i] != 1 || !numbered); /* a number and nothing else is no report */
        demand(lengths[i] == 0 || numbered == (i != 0));
        found = lengths[i] > found ? lengths[i] : found;
    }
    return found;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct usb_reports reports;
    uint8_t *copied = malloc(size + 1); /* ends where the input ends */
    demand(copied != NULL);
    memcpy(copied, data, size);
    uint8_t *exact = realloc(copied, size > 0 ? size : 1);
    demand(exact != NULL);
    if (usb_reports_read(exact, size, &reports)) {
        demand(reports.input_max == longest(reports.input, reports.numbered));
        demand(reports.output_max == longest(reports.output, reports.numbered));
        demand(reports.input_max > 0 || reports.output_max > 0);
    }
    free(exact);
    return 0;
}
