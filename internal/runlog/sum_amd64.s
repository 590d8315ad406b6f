#include "textflag.h"

// func callFor(data *byte, skip, lines int)
TEXT ·callFor(SB), NOSPLIT, $0-24
	MOVQ data+0(FP), SI
	ADDQ skip+8(FP), SI
	MOVQ lines+16(FP), CX
next:
	PREFETCHT0 (SI)
	ADDQ $64, SI
	DECQ CX
	JNZ next
	RET
