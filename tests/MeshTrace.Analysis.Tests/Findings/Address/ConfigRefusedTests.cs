using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Address;

/// <summary>Config Model App Bind of AppKey 0 to the Generic OnOff Server of 0x0003, and its Status (Mesh Protocol 1.1 §4.3.2.46, .48; codes §4.3.14).</summary>
public sealed class ConfigRefusedTests
{
    private const string Bind = "803d" + "0300" + "0000" + "0010", Refused = "803e" + "03" + "0300" + "0000" + "0010", Taken = "803e" + "00" + "0300" + "0000" + "0010";

    [Fact]
    public void ARefusal_IsCertain_AndNamesTheCodeAndWhatHelps()
    {
        var talk = new ConfigTalk();
        Finding finding = Assert.Single(Found(talk.Ask(0, Bind).Answer(100, Refused)));
        Assert.Equal((Confidence.Certain, ConfigTalk.Node), (finding.Confidence, finding.Node!.Value.Value));
        Assert.Contains("Invalid AppKey Index", finding.Says, StringComparison.Ordinal);
        Assert.Contains("Config AppKey Add", finding.Remedy, StringComparison.Ordinal);
        Assert.Equal(2, finding.Evidence.Count);
    }

    [Fact]
    public void AnAcceptedChange_OrALaterSuccess_IsNoFinding()
    {
        Assert.Empty(Found(new ConfigTalk().Ask(0, Bind).Answer(100, Taken)));
        Assert.Empty(Found(new ConfigTalk().Ask(0, Bind).Answer(100, Refused).Ask(40_000, Bind).Answer(40_100, Taken)));
    }

    [Fact]
    public void TheSameRefusalTwice_IsToldOnce() =>
        Assert.Single(Found(new ConfigTalk().Ask(0, Bind).Answer(100, Refused).Ask(40_000, Bind).Answer(40_100, Refused)));

    /// <summary>The Status alone tells element, model and key; the answer to a repetition tells nothing new.</summary>
    [Fact]
    public void AStatusWithoutItsRequest_IsARefusalAllTheSame()
    {
        Assert.Single(Found(new ConfigTalk().Answer(100, Refused)));
        Assert.Single(Found(new ConfigTalk().Ask(0, Bind).Answer(100, Refused).Answer(5_000, Refused)));
        Assert.Empty(Found(new ConfigTalk().Answer(100, Refused).Ask(40_000, Bind).Answer(40_100, Taken)));
    }

    private static Finding[] Found(ConfigTalk talk) => [.. talk.Analyse().Findings.Where(finding => finding.Id == "config-refused")];
}
