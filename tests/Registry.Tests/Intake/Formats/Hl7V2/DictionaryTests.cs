using Registry.Intake.Receiving;
using Registry.Tests.Architecture;

namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>The places and codes we use, as the npm package hl7-dictionary (HL7 v2.6 definitions and tables) names them.</summary>
public sealed class DictionaryTests
{
    private static readonly (string Place, string Name)[] Places =
    [
        ("MSH-4", "Sending Facility"), ("MSH-9", "Message Type"), ("MSH-10", "Message Control ID"), ("MSH-11", "Processing ID"),
        ("MSH-12", "Version ID"),
        ("MSH-15", "Accept Acknowledgment Type"), ("MSH-16", "Application Acknowledgment Type"), ("MSH-18", "Character Set"),
        ("PID-3", "Patient Identifier List"), ("PID-5", "Patient Name"), ("PID-7", "Date/Time of Birth"), ("PID-8", "Administrative Sex"),
        ("PID-11", "Patient Address"),
        ("PID-13", "Phone Number - Home"), ("PID-15", "Primary Language"), ("PID-24", "Multiple Birth Indicator"),
        ("PID-25", "Birth Order"),
        ("PID-29", "Patient Death Date and Time"), ("PID-30", "Patient Death Indicator"),
        ("NK1-2", "NK Name"), ("NK1-3", "Relationship"), ("NK1-5", "Phone Number"), ("NK1-16", "Date/Time of Birth"),
        ("PV1-4", "Admission Type"), ("PV1-45", "Discharge Date/Time"), ("MRG-1", "Prior Patient Identifier List"),
        ("OBR-4", "Universal Service Identifier"), ("OBR-7", "Observation Date/Time"), ("OBR-25", "Result Status"),
        ("OBX-3", "Observation Identifier"), ("OBX-4", "Observation Sub-ID"), ("OBX-5", "Observation Value"), ("OBX-6", "Units"),
        ("OBX-11", "Observation Result Status"),
        ("OBX-14", "Date/Time of the Observation"), ("OBX-16", "Responsible Observer"), ("OBX-17", "Observation Method"),
        ("OBX-18", "Equipment Instance Identifier"),
        ("OBX-20", "Observation Site"), ("MSA-1", "Acknowledgment Code"), ("MSA-2", "Message Control ID"),
        ("ERR-2", "Error Location"), ("ERR-3", "HL7 Error Code"), ("ERR-4", "Severity"), ("ERR-8", "User Message"),
        ("BHS-11", "Batch Control ID"), ("BHS-12", "Reference Batch Control ID"),
    ];

    [Fact]
    public async Task Every_place_and_code_is_the_standards()
    {
        var json = System.Text.Json.Nodes.JsonNode.Parse(string.Concat(await NodeTool.RunAsync(
            SourceTree.Root, "dictionary.js", [.. Places.Select(p => p.Place)], TestContext.Current.CancellationToken)))!;
        Assert.Equal(Places.Select(p => $"{p.Place} {p.Name}"), Places.Select(p => $"{p.Place} {json["places"]![p.Place]}"),
            StringComparer.OrdinalIgnoreCase);
        foreach (var code in new[] { 0, 100, 101, 102, 103, 200, 201, 202, 203, 204, 205, 206, 207 })
            Assert.Equal(json["conditions"]![$"{code}"]!.ToString(), WriteAcknowledgement.NameOf(code));
        Assert.All("EWI", s => Assert.NotNull(json["severities"]![$"{s}"]));
        Assert.StartsWith("Record coming over is a correction", json["statuses"]!["C"]!.ToString(), StringComparison.Ordinal);
        Assert.StartsWith("Deletes", json["statuses"]!["D"]!.ToString(), StringComparison.Ordinal);
        Assert.StartsWith("Post original as wrong", json["statuses"]!["W"]!.ToString(), StringComparison.Ordinal);
    }
}
