/*
 * commands.h - what the host may ask, and the answers.
 *
 *   hello               the greeting again
 *   state               clock, next sequence number, pulses lost, edges ignored, settling times
 *   settle MICROS       a pulse counts only after its sensor has rested this long; on all channels
 *   settle C MICROS     the same on channel C
 */
#ifndef COMMANDS_H
#define COMMANDS_H

void commands_say_hello(void);
void commands_say_ignored(void);
void commands_answer(const char *command);

#endif
