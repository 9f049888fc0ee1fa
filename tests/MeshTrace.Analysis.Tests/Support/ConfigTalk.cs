using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>Config messages between a client at 0x0001 and a node at 0x0003, under the node's device key.</summary>
internal sealed class ConfigTalk
{
    public const ushort Client = 0x0001, Node = 0x0003;
    public static readonly byte[] DeviceKey = Convert.FromHexString("a1b2c3d4e5f60718293a4b5c6d7e8f90");
    private uint _clientSeq = 1000, _nodeSeq = 2000;

    public AirBuilder Air { get; } = new();

    public ConfigTalk Ask(double ms, string payloadHex) => Say(ms, ref _clientSeq, Client, Node, payloadHex);

    public ConfigTalk Answer(double ms, string payloadHex) => Say(ms, ref _nodeSeq, Node, Client, payloadHex);

    public CaptureHistory Analyse(string? description = null)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings
        {
            Description = description is null ? null : NetworkDescriptionReader.Read(System.Text.Encoding.UTF8.GetBytes(description), "network.json"),
            Keys = new KeyArguments
            {
                NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))],
                DeviceKeys = [new TypedDeviceKey(new MeshAddress(Node), new KeyOctets(DeviceKey))],
            },
        });
        analysis.Read(Air.Frames);
        return analysis.Complete();
    }

    private ConfigTalk Say(double ms, ref uint seq, ushort src, ushort dst, string payloadHex)
    {
        if (payloadHex.Length <= 22)
        {
            Air.Access(ms, 5, seq++, src, dst, payloadHex, deviceKey: DeviceKey);
            return this;
        }
        List<byte[]> segments = Air.Segments(payloadHex, seq, src, dst, DeviceKey);
        for (int i = 0; i < segments.Count; i++)
            Air.Network(ms + (i * 0.01), false, 5, seq++, src, dst, segments[i]);
        return this;
    }
}
