using System.Buffers;

namespace Registry.Intake.Mllp;

public enum FrameState { NeedMore, Frame, Malformed, TooLarge }

/// <summary>The minimal lower layer protocol (HL7 v2 transport specification, release 1): <c>0x0B</c> content <c>0x1C 0x0D</c>.</summary>
public static class MllpFrames
{
    public const byte Start = 0x0B;
    public const byte End = 0x1C;
    public const byte CarriageReturn = 0x0D;

    /// <summary>Takes the next frame off the buffer, if it is whole. Line ends between frames are passed over; anything else is
    /// malformed.</summary>
    public static FrameState TryRead(ref ReadOnlySequence<byte> buffer, int maxBytes, out ReadOnlySequence<byte> content)
    {
        content = default;
        var reader = new SequenceReader<byte>(buffer);
        reader.AdvancePastAny((byte)'\r', (byte)'\n');
        buffer = buffer.Slice(reader.Position);
        if (buffer.IsEmpty) return FrameState.NeedMore;
        if (buffer.FirstSpan[0] != Start) return FrameState.Malformed;
        var rest = buffer.Slice(1);
        if (rest.PositionOf(End) is not { } end) return rest.Length > maxBytes ? FrameState.TooLarge : FrameState.NeedMore;
        content = rest.Slice(0, end);
        if (content.Length > maxBytes) return FrameState.TooLarge;
        var after = rest.Slice(end).Slice(1);
        if (after.IsEmpty) return FrameState.NeedMore;
        if (after.FirstSpan[0] != CarriageReturn || content.PositionOf(Start) is not null) return FrameState.Malformed;
        buffer = after.Slice(1);
        return FrameState.Frame;
    }

    public static void Write(IBufferWriter<byte> to, ReadOnlySpan<byte> content)
    {
        to.Write([Start]);
        to.Write(content);
        to.Write([End, CarriageReturn]);
    }
}
