using System.Text;
using Registry.Intake.Formats.Hl7V2;

namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>The encoding rules of HL7 v2.x chapter 2: delimiters, escapes, character sets, line ends.</summary>
public sealed class Hl7V2MessageTests
{
    private const string Header = "MSH|^~\\&|A|B|C|D|20261121||ORU^R01^ORU_R01|1|P|2.6";

    [Theory]
    [InlineData("\r"), InlineData("\n"), InlineData("\r\n"), InlineData("\r\r")]
    public void Segments_end_with_any_line_end(string end)
    {
        var message = Read(Header + end + "PID|1||4711^^^H^MR~99^^^H^PI" + end);
        Assert.Equal(2, message.SegmentCount);
        Assert.Equal("PID", message.Name(1));
        Assert.Equal("99", message.Component(message.Repetition(message.Field(1, 3), 2), 1));
        Assert.Equal("MR", message.Value(1, 3, 5));
        Assert.Equal("", message.Value(1, 40));
        Assert.Equal("|", message.Field(0, 1));
        Assert.Equal("^~\\&", message.Field(0, 2));
        Assert.Equal("R01", message.Value(0, 9, 2));
    }

    [Theory]
    [InlineData(@"\F\\S\\T\\R\\E\", @"|^&~\")]
    [InlineData(@"one\.br\two", "one\ntwo")]
    [InlineData(@"\H\bold\N\", "bold")]
    [InlineData(@"\X4A6F\", "Jo")]
    [InlineData(@"\XC3A9\", "é")]
    [InlineData(@"\X4\", @"\X4\")]
    [InlineData(@"\Q\kept", @"\Q\kept")]
    [InlineData(@"open\", @"open\")]
    [InlineData(@"\.sp+2\a\.in+1\b", "\nab")]
    public void Escapes_are_undone(string raw, string expected) =>
        Assert.Equal(expected, new Unescape().Of(raw, Read(Header)).ToString());

    [Fact]
    public void Other_delimiters_are_taken_from_the_header()
    {
        var message = Read("MSH#*!?$#A#B#C#D#20261121##ADT*A01#7#P#2.5.1\rPID#1##4711***H*MR!5#");
        Assert.Equal("A01", message.Value(0, 9, 2));
        Assert.Equal("MR", message.Value(1, 3, 5));
        Assert.Equal("5", message.Repetition(message.Field(1, 3), 2));
        Assert.Equal("#", new Unescape().Of("?F?", message).ToString());
    }

    [Theory]
    [InlineData("UNICODE UTF-8", "utf-8"), InlineData("8859/1", "iso-8859-1"), InlineData("8859/2", "iso-8859-2"),
        InlineData("8859/15", "iso-8859-15"), InlineData("", "utf-8")]
    public void The_character_set_is_what_the_header_says(string name, string encoding)
    {
        CodePagesEncodingProvider.Instance.GetEncodings();
        var written = CodePagesEncodingProvider.Instance.GetEncoding(encoding) ?? Encoding.GetEncoding(encoding);
        var message = new Hl7V2Message();
        Assert.Null(message.Read(written.GetBytes($"{Header}||||||{name}\rPID|1||1||Šáß")));
        Assert.Equal(written.GetString(written.GetBytes("Šáß")), message.Value(1, 5).ToString());
    }

    [Theory]
    [InlineData("PID|1", 2, 102)]
    [InlineData("MSH", 2, 102)]
    [InlineData("MSH|^^\\&|A|B", 2, 102)]
    [InlineData("MSH|^~\\&|A|B|||||ADT^A01|1|P|2.6||||||UNICODE UTF-16", 18, 103)]
    [InlineData("MSH|^~\\&|A|B|||||ADT^A01|1|P|2.6||||||ASCII\rPID|1||é", 18, 102)]
    [InlineData("MSH|^~\\&|A|B|||||ADT^A01|1|P|2.6\rnot a segment", 0, 100)]
    public void What_cannot_be_read_says_where(string text, int field, int code)
    {
        var unreadable = new Hl7V2Message().Read(Encoding.UTF8.GetBytes(text));
        Assert.Equal((field, code), (unreadable!.At.Field, unreadable.Code));
    }

    [Fact]
    public void Latin_bytes_without_a_stated_character_set_are_refused() =>
        Assert.Equal(18, new Hl7V2Message().Read([.. Encoding.ASCII.GetBytes(Header + "\rPID|1||1||M"), 0xFC, (byte)'l'])!.At.Field);

    [Theory]
    [InlineData("20261121", "2026-11-21"), InlineData("202611210915", "2026-11-21T09:15"),
        InlineData("20261121091530.1234", "2026-11-21T09:15:30")]
    [InlineData("202611210915+0000", "2026-11-21T10:15"), InlineData("202611212330-0500", "2026-11-22T05:30"),
        InlineData("202611210915+0100", "2026-11-21T09:15")]
    [InlineData("202613410915+0000", "2026-13-41T09:15")]
    public void Times_are_local_to_the_region(string stamp, string expected)
    {
        Assert.True(Hl7V2Time.TryRead(stamp, out var time));
        Assert.Equal(expected, time.Write(stackalloc char[19], TimeZoneInfo.CreateCustomTimeZone("here", TimeSpan.FromHours(1), null, null))
            .ToString());
    }

    [Theory]
    [InlineData("2026112"), InlineData("2026-11-21"), InlineData("20261121T0915"), InlineData("202611210915Z"), InlineData("+0100"),
        InlineData("20261121091530.")]
    public void What_is_no_time_stamp_is_none(string text) => Assert.False(Hl7V2Time.TryRead(text, out _));

    private static Hl7V2Message Read(string text)
    {
        var message = new Hl7V2Message();
        Assert.Null(message.Read(Encoding.UTF8.GetBytes(text)));
        return message;
    }
}
