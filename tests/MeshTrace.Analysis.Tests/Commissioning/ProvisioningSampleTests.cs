using System.Text.Json;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>The provisioning samples of Mesh Protocol 1.1: §8.7 (a whole session on PB-ADV), §8.13 (records), §8.17 (both algorithms).</summary>
public sealed class ProvisioningSampleTests
{
    private static readonly JsonElement[] Samples = [.. JsonDocument.Parse(File.ReadAllBytes(Path.Combine(AppContext.BaseDirectory, "Vectors", "sample-data.json")))
        .RootElement.GetProperty("vectors").EnumerateArray()];

    private readonly AirBuilder _air = new();
    private double _ms;

    [Theory]
    [InlineData("provisioner_private_key")]
    [InlineData("device_private_key")]
    public void SpecVector_8_7_TheSessionGivesItsKeys_WithThePrivateKeyOfEitherSide(string side)
    {
        foreach (JsonElement sample in InSection("8.7."))
            foreach (byte[] pdu in PduList(sample))
                Hear(pdu);

        CaptureHistory history = Analyse(Octets(Sample("8.7"), "inputs", side));

        ProvisioningLink link = Assert.Single(history.Provisionings);
        Assert.Equal((ProvisioningOutcome.Complete, ConfirmationCheck.Right, 0), (link.Outcome, link.Confirmation, link.Retransmissions));
        Assert.Equal(InSection("8.7.").Count(sample => Kind(sample) == "pb_adv_transaction"), link.Pdus.Count);
        Assert.Equal(LinkCloseReason.Success, link.Close);
        AssertLearnt(history, Sample("8.17.1"));
    }

    [Theory]
    [InlineData("8.17.1")]
    [InlineData("8.17.2")]
    public void SpecVector_8_17_BothAlgorithms_GiveTheKeysPrinted(string section)
    {
        JsonElement sample = Sample(section);
        Send(false, 0x00, Octets(sample, "inputs", "invite"));
        Send(true, 0x01, Octets(sample, "inputs", "capabilities"));
        Send(false, 0x02, Octets(sample, "inputs", "start"));
        Send(false, 0x03, Octets(sample, "inputs", "provisioner_public_key"));
        Send(true, 0x03, Octets(sample, "inputs", "device_public_key"));
        Send(false, 0x05, Octets(sample, "outputs", "confirmation_provisioner"));
        Send(true, 0x05, Octets(sample, "outputs", "confirmation_device"));
        Send(false, 0x06, Octets(sample, "inputs", "random_provisioner"));
        Send(true, 0x06, Octets(sample, "inputs", "random_device"));
        Send(false, 0x07, [.. Octets(sample, "outputs", "encrypted_provisioning_data"), .. Octets(sample, "outputs", "provisioning_data_mic")]);
        Send(true, 0x08, []);

        CaptureHistory history = Analyse(Octets(sample, "inputs", "device_private_key"), Octets(sample, "inputs", "auth_value"));

        Assert.Equal(ConfirmationCheck.Right, Assert.Single(history.Provisionings).Confirmation);
        AssertLearnt(history, sample);
    }

    [Fact]
    public void SpecVector_8_13_RecordsAreReadFromTheirSegments()
    {
        JsonElement[] transactions = [.. InSection("8.13.").Where(sample => Kind(sample) == "pb_adv_transaction")];
        foreach (JsonElement sample in transactions)
            foreach (byte[] pdu in PduList(sample))
                Hear(pdu);
        IReadOnlyList<ProvisioningPduRecord> pdus = Analyse().Provisionings.SelectMany(link => link.Pdus).ToList();
        Assert.Equal(transactions.Select(sample => sample.GetProperty("inputs").GetProperty("provisioning_pdu").GetString()), pdus.Select(pdu => Convert.ToHexStringLower(pdu.Octets)));
    }

    private static void AssertLearnt(CaptureHistory history, JsonElement sample)
    {
        RevealedKey[] keys = [.. history.Keys.RevealedKeys()];
        RevealedKey netKey = Assert.Single(keys, key => key.Kind == "netKey"), deviceKey = Assert.Single(keys, key => key.Kind == "deviceKey");
        Assert.Equal(Octets(sample, "inputs", "net_key"), netKey.Octets.ToArray());
        Assert.Equal(Convert.ToInt32(sample.GetProperty("inputs").GetProperty("net_key_index").GetString(), 16), netKey.Index);
        Assert.Equal(Octets(sample, "outputs", "device_key"), deviceKey.Octets.ToArray());
        Assert.Equal(Convert.ToUInt16(sample.GetProperty("inputs").GetProperty("unicast_address").GetString(), 16), deviceKey.Of!.Value.Value);
        Assert.Equal(Convert.ToUInt32(sample.GetProperty("inputs").GetProperty("iv_index").GetString(), 16), history.Keys.Subnets[0].IvIndex);
    }

    private byte _provisioner, _device = PbAdvPdu.FirstTransactionNumberOfDevice;

    private void Send(bool fromDevice, byte type, byte[] parameters)
    {
        byte[] whole = [type, .. parameters], pdu = new byte[32];
        byte number = fromDevice ? _device++ : _provisioner++;
        for (int segment = 0; segment < ProvisioningSegmenter.SegmentCount(whole.Length); segment++)
            Hear(pdu[..ProvisioningSegmenter.WritePbAdv(pdu, 0x12345678, number, whole, segment)]);
    }

    private void Hear(byte[] pbAdvPdu) => _air.Structure(_ms += 40, AdType.PbAdv, pbAdvPdu);

    private CaptureHistory Analyse(byte[]? privateKey = null, byte[]? authValue = null)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings
        {
            Keys = new KeyArguments { ProvisioningKeys = privateKey is null ? [] : [privateKey], ProvisioningOobValues = authValue is null ? [] : [authValue] },
        });
        analysis.Read(_air.Frames);
        return analysis.Complete();
    }

    private static JsonElement Sample(string id) => Samples.Single(sample => sample.GetProperty("id").GetString() == id);
    private static IEnumerable<JsonElement> InSection(string prefix) => Samples.Where(sample => sample.GetProperty("section").GetString()!.StartsWith(prefix, StringComparison.Ordinal));
    private static string Kind(JsonElement sample) => sample.GetProperty("kind").GetString()!;
    private static byte[] Octets(JsonElement sample, string part, string name) => Convert.FromHexString(sample.GetProperty(part).GetProperty(name).GetString()!);

    private static IEnumerable<byte[]> PduList(JsonElement sample) => sample.GetProperty("outputs").TryGetProperty("pb_adv_pdus", out JsonElement list)
        ? list.EnumerateArray().Select(pdu => Convert.FromHexString(pdu.GetString()!))
        : [Octets(sample, "outputs", "pb_adv_pdu")];
}
