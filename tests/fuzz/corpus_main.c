/*
 * Runs a fuzz target over every file of its kept corpus, and over each file cut short at every length below CUTS bytes.
 */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int file_run(const char *path, size_t cuts)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return -1;
    size_t capacity = 2u << 20;
    uint8_t *bytes = malloc(capacity);
    size_t length = bytes != NULL ? fread(bytes, 1, capacity, file) : 0;
    fclose(file);
    if (bytes == NULL)
        return -1;
    LLVMFuzzerTestOneInput(bytes, length);
    for (size_t cut = 0; cut < length && cut < cuts; cut++)
        LLVMFuzzerTestOneInput(bytes, cut);
    free(bytes);
    return 0;
}

int main(int count, char **arguments)
{
    if (count != 3) {
        fprintf(stderr, "usage: %s CORPUS_DIR CUTS\n", arguments[0]);
        return 2;
    }
    DIR *folder = opendir(arguments[1]);
    if (folder == NULL) {
        perror(arguments[1]);
        return 1;
    }
    int files = 0;
    for (struct dirent *item; (item = readdir(folder)) != NULL;) {
        if (item->d_name[0] == '.')
            continue;
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", arguments[1], item->d_name);
        if (file_run(path, strtoul(arguments[2], NULL, 10)) != 0) {
            perror(path);
            closedir(folder);
            return 1;
        }
        files++;
    }
    closedir(folder);
    printf("%d inputs\n", files);
    return files > 0 ? 0 : 1;
}
