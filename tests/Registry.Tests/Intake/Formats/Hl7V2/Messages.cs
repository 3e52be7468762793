namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>Messages of an invented hospital, with the parts a test varies.</summary>
internal static class Messages
{
    public const string Pass = "LA10392-1^Pass^LN";
    public const string Refer = "LA10393-9^Refer^LN";
    public const string Aabr = "LA10387-1^Automated auditory brainstem response^LN";

    public static string Admission(string number = "4711", string trigger = "A01", string control = "A-1", string born = "202611200441",
        string sex = "F",
        string type = "N", string multiple = "N", string order = "", string discharged = "", string death = "", string version = "2.6",
        string address = "^^^^^^^^Lind") =>
            Lines(
        $"MSH|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121080000||ADT^{trigger}^ADT_A01|{control}|P|{version}",
        $"EVN|{trigger}|20261121080000",
        $"PID|1||{number}^^^HARBOUR^MR||Marlow^Girl||{born}|{sex}|||{address}||||en|"
            + $"||||||||{multiple}|{order}||||{death}",
        "NK1|1|Marlow^Ada|MTH^Mother^HL70063||^PRN^PH^^^555^0123~^NET^Internet^ada@example.test|||||||||||19950203",
        Segment("PV1", (1, "1"), (2, "I"), (3, "NURSERY^1"), (4, type), (44, "202611200500"), (45, discharged)));

    /// <summary>A segment by the numbers of its fields.</summary>
    public static string Segment(string name, params (int Field, string Value)[] fields)
    {
        var parts = new string[fields.Max(f => f.Field) + 1];
        parts[0] = name;
        foreach (var (field, value) in fields) parts[field] = value;
        return string.Join('|', parts).TrimEnd('|');
    }

    public static string Results(string number = "4711", string right = Pass, string left = Pass, string method = Aabr, string status = "F",
        string control = "R-1", string at = "202611210915", string pv1 = "PV1|1|I|NURSERY^1", string extra = "", string header = "",
        string site = "25577004^^SCT") => Lines(
        header.Length > 0 ? header : $"MSH|^~\\&|SCREENING|HARBOUR|REGISTRY|LINDMERE|20261121100000||ORU^R01^ORU_R01|{control}|P|2.6",
        $"PID|1||{number}^^^HARBOUR^MR||Marlow^Girl||20261120|F",
        "NK1|1|Marlow^Ada|MTH^Mother^HL70063|||||||||||||19950203",
        pv1,
        $"OBR|1||1|54111-0^Newborn hearing screening panel^LN|||{at}",
        extra,
        $"OBR|2||2|73744-5^Newborn hearing screen panel of Ear - right^LN|||{at}",
        $"OBX|1|CWE|54109-4^Newborn hearing screen of Ear - right^LN|1|{right}||||||{status}|||{at}||S12||UNIT-4||{site}",
        $"OBX|2|CWE|54106-0^Newborn hearing screen method^LN|1|{method}||||||F",
        $"OBR|3||3|73741-1^Newborn hearing screen panel of Ear - left^LN|||{at}",
        $"OBX|1|CWE|54108-6^Newborn hearing screen of Ear - left^LN|1|{left}||||||{status}|||{at}||||UNIT-4||89644007^^SCT",
        $"OBX|2|CWE|54106-0^Newborn hearing screen method^LN|1|{method}||||||F");

    public static string Merge(string stays, string prior, string control = "M-1") => Lines(
        $"MSH|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261122080000||ADT^A40^ADT_A39|{control}|P|2.6",
        "EVN|A40|20261122080000",
        $"PID|1||{stays}^^^HARBOUR^MR||Marlow^Girl||20261120|F",
        $"MRG|{prior}^^^HARBOUR^MR");

    public static string Lines(params string[] segments) => string.Concat(segments.Where(s => s.Length > 0).Select(s => s + "\r"));
}
