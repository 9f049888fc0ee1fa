using System.Globalization;
using System.Text;
using System.Text.Json;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Synthesis.Tests;

/// <summary>A captured frame as the protocol's decoders read it, with the keys of the description.</summary>
internal sealed record DecodedFrame(
    int Receiver, long TimeNs, int? Channel, bool CrcGood, int AdvDataOctets, AdType? Type, MeshAddress Src, MeshAddress Dst, uint Seq,
        byte Ttl, bool Ctl, byte[] TransportPdu)
{
    public bool IsPdu => Src != MeshAddress.Unassigned;
}

/// <summary>A composed scenario with its capture decoded and its JSON files parsed.</summary>
internal sealed class Composed
{
    private Composed(ComposedFiles files)
    {
        Files = files;
        Truth = JsonDocument.Parse(files.Truth).RootElement;
        Description = JsonDocument.Parse(files.Description).RootElement;
        Frames = Decode(files.Capture);
    }

    public ComposedFiles Files { get; }
    public JsonElement Truth { get; }
    public JsonElement Description { get; }
    public List<DecodedFrame> Frames { get; }

    public IEnumerable<JsonElement> Presses => Truth.GetProperty("presses").EnumerateArray();
    public IEnumerable<JsonElement> Floods => Truth.GetProperty("floods").EnumerateArray();
    public IEnumerable<JsonElement> Transfers => Truth.GetProperty("transfers").EnumerateArray();

    public static Composed Of(string json) => new(Composer.ComposeInMemory(Encoding.UTF8.GetBytes(json)));

    public static Composed Of(byte[] json) => new(Composer.ComposeInMemory(json));

    /// <summary>The first cause of loss of a press, or "acted" where every meant element acted.</summary>
    public string CauseOf(int press)
    {
        JsonElement truth = Presses.ElementAt(press);
        return truth.GetProperty("fate").GetString() == "all" ? "acted" : truth.GetProperty("lost")[0].GetProperty("cause").GetString()!;
    }

    /// <summary>Nanoseconds since 1970 of a time in the truth.</summary>
    public static long Nanoseconds(string time)
    {
        var seconds = DateTimeOffset.ParseExact(time[..19] + "Z", "yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
        return (seconds.ToUnixTimeSeconds() * 1_000_000_000) + int.Parse(time[20..29], CultureInfo.InvariantCulture);
    }

    private List<DecodedFrame> Decode(byte[] capture)
    {
        var networks = Description.GetProperty("netKeys").EnumerateArray()
            .Select(key => new NetKeyMaterial(Convert.FromHexString(key.GetProperty("key").GetString()!)).Flooding).ToList();
        var frames = new List<DecodedFrame>();
        using IFrameSource source = CaptureFile.Open(new MemoryStream(capture), "composed");
        while (source.TryReadNext(out CapturedFrame frame))
        {
            int position = 0;
            while (LinkReader.TryReadNext(frame, ref position, out Advertisement advertisement))
                frames.Add(Decode(frame, advertisement, networks));
        }
        Assert.Null(source.Damage);
        return frames;
    }

    private static DecodedFrame Decode(in CapturedFrame frame, in Advertisement advertisement, List<NetworkCredentials> networks)
    {
        bool good = advertisement.Crc != CrcCheck.Bad;
        AdType? type = null;
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        var structures = new AdStructureReader(advertisement.AdvData);
        while (structures.MoveNext())
        {
            type = structures.Type;
            if (!good || structures.Type != AdType.MeshMessage)
                continue;
            foreach (NetworkCredentials credentials in networks)
            {
                for (uint ivIndex = 0; ivIndex < 12; ivIndex++)
                {
                    if (NetworkSecurity.TryDecrypt(structures.Data, credentials, ivIndex, clear, out int length)
                        && ClearNetworkPdu.TryRead(clear[..length], out var pdu, out _))
                    {
                        return new DecodedFrame(frame.Receiver, frame.TimeNs, advertisement.Channel, good, advertisement.AdvData.Length,
                            type, pdu.Src, pdu.Dst, pdu.Seq,
                            pdu.Ttl, pdu.Ctl, pdu.TransportPdu.ToArray());
                    }
                }
            }
        }
        return new DecodedFrame(frame.Receiver, frame.TimeNs, advertisement.Channel, good, advertisement.AdvData.Length, type, default,
            default, 0, 0, false, []);
    }
}
