using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Config messages of a key refresh (Mesh Protocol 1.1 §3.11.4, §4.3.2), and the one that takes a node out of the network.</summary>
internal static partial class ConfigurationSteps
{
    internal const string ResetName = "reset";

    /// <summary>After its answer a node is given this long to send it, then it leaves.</summary>
    private const long LeavesAfterUs = 600_000;

    internal static ConfigurationStep NetKeyUpdate(SubnetKeys fresh) =>
        new("Config NetKey Update", "Config NetKey Status",
            [0x80, 0x45, .. Little((ushort)fresh.Index), .. fresh.Material.Octets],
            node => node.UpdateNetKey(fresh) is { } status ? [0x80, 0x44, status, .. Little((ushort)fresh.Index)] : null);

    internal static ConfigurationStep AppKeyUpdate(AppKeyPlan plan, AccessKey fresh)
    {
        byte[] payload = new byte[1 + 3 + 16];
        payload[0] = 0x01;
        WriteIndexes(payload.AsSpan(1), plan.NetKey, plan.Index);
        plan.Key.CopyTo(payload, 4);
        return new("Config AppKey Update", "Config AppKey Status", payload, node =>
        {
            node.UpdateAppKey(fresh);
            byte[] status = [0x80, 0x03, Success, 0, 0, 0];
            WriteIndexes(status.AsSpan(3), plan.NetKey, plan.Index);
            return status;
        });
    }

    internal static ConfigurationStep KeyRefreshPhase(int netKey, int transition) =>
        new("Config Key Refresh Phase Set", "Config Key Refresh Phase Status",
            [0x80, 0x16, .. Little((ushort)netKey), (byte)transition],
            node => node.SetKeyRefreshPhase(netKey, transition) is { } phase
                ? [0x80, 0x17, Success, .. Little((ushort)netKey), (byte)phase] : null);

    private static ConfigurationStep NodeReset() =>
        new("Config Node Reset", "Config Node Reset Status", [0x80, 0x49], node =>
        {
            node.LeaveNetworkAfter(LeavesAfterUs);
            return [0x80, 0x4A];
        });
}
