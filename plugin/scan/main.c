/*
 * counterfoil-scan: how much of a note is on this picture? It measures areas and knows nothing of notes.
 */
#include "scan/scan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXIT_GOOD = 0, EXIT_FAILED = 1, EXIT_USAGE = 2 };

/* A4 across, ISO 216; the marks' middles stand so far from its edges. */
#define PAGE_LENGTH_MM 297
#define PAGE_HEIGHT_MM 210
#define PAGE_MARGIN_MM 20

static const char help[] = "usage: counterfoil-scan PICTURE [--dpi N | --marks LENGTHxHEIGHTmm] [--json]\n"
                           "       counterfoil-scan --page\n\n"
                           "Measures the pieces of a note on a picture: PNG, JPEG, TIFF or PNM. The pieces\n"
                           "lie flat on a dark ground and do not touch.\n\n"
                           "  --dpi N       a flat-bed scan at N dots an inch; what the file says when\n"
                           "                neither --dpi nor --marks is given\n"
                           "  --marks SIZE  a photo of the page with four light marks; SIZE is what lies\n"
                           "                between their middles, 257x170mm when printed without scaling\n"
                           "  --page        write that page as SVG (A4 across)\n"
                           "  --json        one JSON object\n\n"
                           "'counterfoil worth --area ... --bound ...' says what the piece is worth. Dark\n"
                           "print at the edge may look like the ground, and a hole like dark print: then\n"
                           "measure by hand. Exit code: 0, 1 when it cannot be measured, 2 for a mistake in\n"
                           "the call.\n";

static int page_print(void)
{
    const int half = (int)(SCAN_MARK_MM / 2);
    const int across[] = {PAGE_MARGIN_MM, PAGE_LENGTH_MM - PAGE_MARGIN_MM};
    const int down[] = {PAGE_MARGIN_MM, PAGE_HEIGHT_MM - PAGE_MARGIN_MM};
    printf(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%dmm\" height=\"%dmm\" viewBox=\"0 0 %d %d\" role=\"img\">"
        "<title>%d x %d mm</title><rect width=\"100%%\" height=\"100%%\" fill=\"#202020\"/>",
        PAGE_LENGTH_MM, PAGE_HEIGHT_MM, PAGE_LENGTH_MM, PAGE_HEIGHT_MM, across[1] - across[0], down[1] - down[0]);
    for (int i = 0; i < 4; i++)
        printf("<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" fill=\"#ffffff\"/>", across[i % 2] - half,
               down[i / 2] - half, 2 * half, 2 * half);
    printf("</svg>\n");
    return fflush(stdout) == 0 ? EXIT_GOOD : EXIT_FAILED;
}

/* A number with nothing behind it but `end`. */
static bool number_read(const char **text, const char *end, double least, double most, double *number)
{
    char *behind;
    if (**text < '0' || **text > '9')
        return false;
    *number = strtod(*text, &behind);
    if (strncmp(behind, end, strlen(end)) != 0 || !(*number >= least && *number <= most))
        return false;
    *text = behind + strlen(end);
    return true;
}

static bool dpi_read(const char *text, struct scan_scale *scale)
{
    return text != NULL && number_read(&text, "", 30, 5000, &scale->dpi) && *text == '\0';
}

static bool marks_read(const char *text, struct scan_scale *scale)
{
    return text != NULL && number_read(&text, "x", 50, 2000, &scale->length_mm) &&
           number_read(&text, "mm", 50, 2000, &scale->height_mm) && *text == '\0';
}

static int usage_tell(const char *word)
{
    fprintf(stderr, "counterfoil-scan: '%s' is not good; see 'counterfoil-scan --help'\n", word);
    return EXIT_USAGE;
}

static void result_print(const struct scan_result *result, bool json)
{
    if (json)
        printf("{\"schema\":\"counterfoil.scan/1\",\"pieces\":[");
    for (unsigned i = 0; i < result->count; i++) {
        const struct scan_piece *piece = &result->pieces[i];
        if (json)
            printf("%s{\"area_mm2\":%.1f,\"bound_mm2\":%.1f}", i > 0 ? "," : "", piece->area_mm2, piece->bound_mm2);
        else
            printf("piece %u: %.1f mm2, give or take %.1f\n", i + 1, piece->area_mm2, piece->bound_mm2);
    }
    if (json)
        printf("]}\n");
    else
        printf("The largest undivided piece for 'counterfoil worth': --area %.1fmm2 --bound %.1fmm2\n",
               result->pieces[0].area_mm2, result->pieces[0].bound_mm2);
}

static int picture_measure(const char *path, const struct scan_scale *scale, bool json)
{
    struct scan_result result;
    enum scan_fault fault = scan_file_measure(path, scale, &result);
    if (fault != SCAN_GOOD) {
        fprintf(stderr, "counterfoil-scan: %s; %s\n", path, scan_fault_text(fault));
        return fault == SCAN_FILE ? EXIT_USAGE : EXIT_FAILED;
    }
    result_print(&result, json);
    return fflush(stdout) == 0 ? EXIT_GOOD : EXIT_FAILED;
}

int main(int argc, char **argv)
{
    struct scan_scale scale = {0, 0, 0};
    const char *path = NULL;
    bool json = false;
    for (int i = 1; i < argc; i++) {
        const char *word = argv[i];
        if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0)
            return fputs(help, stdout) >= 0 && fflush(stdout) == 0 ? EXIT_GOOD : EXIT_FAILED;
        if (strcmp(word, "--page") == 0)
            return page_print();
        if (strcmp(word, "--json") == 0)
            json = true;
        else if ((strcmp(word, "--dpi") == 0 && dpi_read(argv[i + 1], &scale)) ||
                 (strcmp(word, "--marks") == 0 && marks_read(argv[i + 1], &scale)))
            i++;
        else if (word[0] != '-' && path == NULL)
            path = word;
        else
            return usage_tell(word);
    }
    if (path == NULL || (scale.dpi > 0 && scale.length_mm > 0))
        return usage_tell(path == NULL ? "no picture" : "--dpi with --marks");
    return picture_measure(path, &scale, json);
}
