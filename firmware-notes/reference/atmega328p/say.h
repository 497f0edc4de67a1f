/*
 * say.h - lines of the protocol as text: pulse lines with their checksum, and `# key: value` lines.
 */
#ifndef SAY_H
#define SAY_H

#include <avr/pgmspace.h>
#include <stdint.h>

#include "queue.h"

void say_line(const struct line *line);

void say_char(char byte);
void say_number(uint32_t value);

/* Text in flash. */
void say_flash(const char *text);
#define SAY(text) say_flash(PSTR(text))

#endif
