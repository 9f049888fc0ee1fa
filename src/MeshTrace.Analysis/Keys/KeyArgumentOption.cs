namespace MeshTrace.Analysis.Keys;

/// <summary>What can be given by hand.</summary>
public enum KeyArgumentOption : byte
{
    /// <summary><c>--net-key [INDEX=]HEX</c></summary>
    NetKey,

    /// <summary><c>--app-key [INDEX=]HEX</c></summary>
    AppKey,

    /// <summary><c>--device-key ADDRESS=HEX</c></summary>
    DeviceKey,

    /// <summary><c>--label UUID</c></summary>
    Label,

    /// <summary><c>--iv-index N</c></summary>
    IvIndex,

    /// <summary><c>--provisioning-key HEX</c>: private key of either side of a provisioning.</summary>
    ProvisioningKey,

    /// <summary><c>--provisioning-oob VALUE</c>: out-of-band value to check confirmations with.</summary>
    ProvisioningOob,
}

/// <summary>The names under which the options are known.</summary>
public static class KeyArgumentOptions
{
    public static IReadOnlyList<KeyArgumentOption> All { get; } =
        [KeyArgumentOption.NetKey, KeyArgumentOption.AppKey, KeyArgumentOption.DeviceKey, KeyArgumentOption.Label, KeyArgumentOption.IvIndex,
            KeyArgumentOption.ProvisioningKey, KeyArgumentOption.ProvisioningOob];

    /// <summary>As typed on the command line, for example <c>--net-key</c>.</summary>
    public static string OptionName(this KeyArgumentOption option) => option switch
    {
        KeyArgumentOption.NetKey => "--net-key",
        KeyArgumentOption.AppKey => "--app-key",
        KeyArgumentOption.DeviceKey => "--device-key",
        KeyArgumentOption.Label => "--label",
        KeyArgumentOption.IvIndex => "--iv-index",
        KeyArgumentOption.ProvisioningKey => "--provisioning-key",
        KeyArgumentOption.ProvisioningOob => "--provisioning-oob",
        _ => throw new ArgumentOutOfRangeException(nameof(option)),
    };

    /// <summary>The environment variable, for example <c>MESHTRACE_NET_KEY</c>.</summary>
    public static string VariableName(this KeyArgumentOption option) => option switch
    {
        KeyArgumentOption.NetKey => "MESHTRACE_NET_KEY",
        KeyArgumentOption.AppKey => "MESHTRACE_APP_KEY",
        KeyArgumentOption.DeviceKey => "MESHTRACE_DEVICE_KEY",
        KeyArgumentOption.Label => "MESHTRACE_LABEL",
        KeyArgumentOption.IvIndex => "MESHTRACE_IV_INDEX",
        KeyArgumentOption.ProvisioningKey => "MESHTRACE_PROVISIONING_KEY",
        KeyArgumentOption.ProvisioningOob => "MESHTRACE_PROVISIONING_OOB",
        _ => throw new ArgumentOutOfRangeException(nameof(option)),
    };

    /// <summary>The form of a value, for example <c>[INDEX=]HEX</c>.</summary>
    public static string Form(this KeyArgumentOption option) => option switch
    {
        KeyArgumentOption.NetKey or KeyArgumentOption.AppKey => "[INDEX=]HEX",
        KeyArgumentOption.DeviceKey => "ADDRESS=HEX",
        KeyArgumentOption.Label => "UUID",
        KeyArgumentOption.IvIndex => "N",
        KeyArgumentOption.ProvisioningKey => "HEX",
        KeyArgumentOption.ProvisioningOob => "NUMBER|HEX|text:LETTERS",
        _ => throw new ArgumentOutOfRangeException(nameof(option)),
    };
}
